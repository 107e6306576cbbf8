"""What attempts say together, counted by hand."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from livecheck.keeping.attempt import Attempt
from livecheck.keeping.trend import Day, Flaw, trend_of

BEGAN = datetime(2026, 11, 2, 18, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _universal_time(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def checkpoint(step: int, string: int, *faults: str, cause: str | None = None, **more: Any) -> dict[str, Any]:
    return {
        "step": step,
        "string": string,
        "judged": True,
        "timing_ms": None,
        "cents": None,
        "faults": list(faults),
        "cause": cause,
        **more,
    }


def attempt(number: int, *checkpoints: dict[str, Any], days: int = 0, gaps: int = 0, **more: Any) -> Attempt:
    extras = more.get("extras", [])
    clean = not extras and not any(c["faults"] for c in checkpoints)
    verdict = json.dumps({"checkpoints": checkpoints, "extras": extras})
    return Attempt("1", number, BEGAN + timedelta(days=days), 0.5, clean, False, gaps, verdict)


def test_days_are_those_of_the_player_and_give_medians_of_the_distances() -> None:
    fine = checkpoint(1, 5, timing_ms=-10.0, cents=4.0)
    late = checkpoint(2, 5, "late", timing_ms=150.0, cents=-8.0)
    unjudged = checkpoint(3, 5, timing_ms=999.0, cents=999.0, judged=False)
    trend = trend_of([attempt(1, fine, late, unjudged), attempt(2, fine, days=1), attempt(3, fine, days=1)])
    assert trend.days == (
        Day(date(2026, 11, 2), 1, 0, 80.0, 6.0),
        Day(date(2026, 11, 3), 2, 2, 10.0, 4.0),
    )


def test_midnight_is_where_the_player_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "XYZ-08:00")  # eight hours ahead of universal time
    time.tzset()
    (day,) = trend_of([attempt(1)]).days
    assert day == Day(date(2026, 11, 3), 1, 1, None, None)


def test_what_got_better_and_what_stays_wrong() -> None:
    late = checkpoint(3, 6, "late")
    still = checkpoint(4, 3, "wrong-note", cause="B not down")
    early = [attempt(n, late, checkpoint(3, 5, "late"), still) for n in range(1, 5)]
    recent = [attempt(n, still) for n in range(5, 9)] + [attempt(9, late)]
    trend = trend_of(early + recent)
    assert trend.flaws == (
        Flaw(4, "B not down", (3,), 4, 4, 4, 5),
        Flaw(3, "late", (5, 6), 4, 4, 1, 5),
    )
    assert [(flaw.is_better, flaw.is_wrong_still) for flaw in trend.flaws] == [(False, True), (True, False)]


def test_a_cause_is_the_same_however_many_cents_it_was() -> None:
    flat = [attempt(n, checkpoint(1, 5, "flat", cause=f"bar {n + 10} cents flat")) for n in (1, 2)]
    (flaw,) = trend_of(flat).flaws
    assert flaw == Flaw(1, "bar flat", (5,), 1, 1, 1, 1)


def test_a_cause_does_not_explain_a_time() -> None:
    both = checkpoint(1, 5, "late", "missed-move", cause="A not down")
    assert [flaw.what for flaw in trend_of([attempt(1, both)]).flaws] == ["late", "A not down"]


def test_extras_count_and_may_have_no_string() -> None:
    again = {"fault": "extra-pick", "string": 4, "at_s": 1.0, "midi": 60.0}
    other = {"fault": "extra-note", "string": None, "at_s": 1.0, "midi": 60.0}
    flaws = trend_of([attempt(1, extras=[again, again, other])]).flaws
    assert flaws == (
        Flaw(None, "picked again", (4,), 0, 0, 1, 1),
        Flaw(None, "notes that are not in the figure", (), 0, 0, 1, 1),
    )


def test_attempts_with_a_gap_say_nothing() -> None:
    trend = trend_of([attempt(1, checkpoint(1, 5, "missed"), gaps=1), attempt(2)])
    assert trend.flaws == ()
    assert [day.attempts for day in trend.days] == [1]


@pytest.mark.parametrize(("attempts", "recent"), [(1, 1), (2, 1), (3, 2), (9, 5), (50, 5)])
def test_the_present_is_half_of_all_and_five_at_most(attempts: int, recent: int) -> None:
    (flaw,) = trend_of([attempt(n, checkpoint(1, 5, "missed")) for n in range(attempts)]).flaws
    assert (flaw.now_of, flaw.before_of) == (recent, attempts - recent)


def test_nothing_tried_is_nothing_told() -> None:
    trend = trend_of([])
    assert (trend.days, trend.flaws) == ((), ())


def test_what_is_not_sure_is_no_flaw() -> None:
    unsure = checkpoint(2, 5, "missed", confidence=0.4)
    sure = checkpoint(2, 5, "missed", confidence=0.6)
    assert trend_of([attempt(1, unsure), attempt(2, unsure, days=1)]).flaws == ()
    assert [flaw.what for flaw in trend_of([attempt(1, sure)]).flaws] == ["not heard"]
