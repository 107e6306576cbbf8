"""Practice puts its parts together; what it does on real servers is tried in `tests/live/test_practice.py`."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from livecheck.cli import practising
from livecheck.cli.practising import REST, Manner, Practising
from livecheck.cli.stand import Broken, Ended, Stand
from livecheck.engine import Brief
from livecheck.lesson.plan import Plan
from livecheck.sources.library import lesson_tolerances, load_lesson


class Silent:
    """A stand on which nothing is ever played: it breaks off twice, then the player ends it."""

    rate_hz = 8_000
    label = "Silent"

    def __init__(self) -> None:
        self.counted_in: list[Any] = []

    def open(self) -> None: ...

    def count_in(self, click: Any) -> int:
        self.counted_in.append(click)
        return 0

    def until_played(self) -> int:
        raise Broken if len(self.counted_in) < 3 else Ended


def practise(folder: Path, stand: Silent, click: str = "count-in") -> bool:
    lesson = load_lesson(str(folder / "lesson.toml"))
    brief = Brief(lesson, lesson.figures, lesson_tolerances(lesson, "lesson.toml"))
    manner = Manner(cast(Any, click), "none", -20.0, 0.0, folder / "kept")
    return Practising(cast(Stand, stand), brief, Plan.begin(2, 90.0, 60.0), manner).run()


def test_a_broken_attempt_is_announced_and_counted_in_anew(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stand = Silent()
    assert practise(folder, stand) is False
    assert capsys.readouterr().out == "\n1 at 60\nPlay.\n" * 3 + "\nEnded.\n"
    assert [click.until_start for click in stand.counted_in] == [4 * 8_000] * 3, "a bar of four at 60"
    assert not (folder / "kept").exists(), "nothing was played"


def test_a_click_all_through_lasts_as_long_as_the_attempt_may(folder: Path) -> None:
    short, long = Silent(), Silent()
    practise(folder, short)
    practise(folder, long, "all")
    assert len(short.counted_in[0].samples) == 4 * 8_000
    assert len(long.counted_in[0].samples) > (4 + 8) * 8_000


def test_a_rest_is_suggested_once_after_a_while(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    practise(folder, Silent())
    assert REST not in capsys.readouterr().out
    monkeypatch.setattr(practising, "REST_AFTER_S", -1.0)
    practise(folder, Silent())
    assert capsys.readouterr().out.count(REST) == 1
