"""What attempts at one figure say together: by day, what gets better and what stays wrong.

In: attempts in order of time. Out: counts and medians. Attempts with a gap in their sound say nothing and are left out.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from statistics import median
from typing import Any

from livecheck.judging.verdict import SURE
from livecheck.keeping.attempt import Attempt

MOST_RECENT = 5
"""Of so many last attempts, half of all at most, the present is made."""
OFTEN = 0.4
"""What went wrong in this share of attempts, or more, is no slip."""
BETTER = 0.5
"""What comes this much less often than before has got better."""

_WORDS = {
    "missed": "not heard",
    "wrong-note": "another note",
    "missed-move": "did not move",
    "cut-short": "cut short",
    "rang-on": "rang on",
    "extra-pick": "picked again",
    "extra-note": "notes that are not in the figure",
}
_EXPLAINED = ("missed", "wrong-note", "missed-move", "flat", "sharp")
"""The faults that a cause says more about."""


@dataclass(frozen=True)
class Day:
    date: date
    """In the time zone of this machine."""
    attempts: int
    clean: int
    time_off_ms: float | None
    """Median of how far picks and arrivals were from their times."""
    pitch_off_cents: float | None
    """Median of how far they settled from their pitches."""


@dataclass(frozen=True)
class Flaw:
    """One thing that went wrong, in how many attempts, before and now."""

    step: int | None
    what: str
    strings: tuple[int, ...]
    before: int
    before_of: int
    now: int
    now_of: int

    @property
    def is_wrong_still(self) -> bool:
        return self.now >= OFTEN * self.now_of

    @property
    def is_better(self) -> bool:
        before = self.before / self.before_of if self.before_of else 0.0
        return before >= OFTEN and self.now / self.now_of <= BETTER * before


@dataclass(frozen=True)
class Trend:
    days: tuple[Day, ...]
    flaws: tuple[Flaw, ...]
    """The most frequent now first."""


def trend_of(attempts: Sequence[Attempt]) -> Trend:
    """The trend of all attempts at one figure."""
    whole = [attempt for attempt in attempts if not attempt.gaps]
    days = [_day(day, list(several)) for day, several in groupby(whole, _date)]
    found = [dict(flaws_of(json.loads(attempt.verdict))) for attempt in whole]
    cut = len(found) - min(MOST_RECENT, (len(found) + 1) // 2)
    before, now = found[:cut], found[cut:]
    flaws = [
        Flaw(
            step,
            what,
            tuple(sorted({string for flaw in found for string in flaw.get((step, what), ())})),
            sum((step, what) in flaw for flaw in before),
            len(before),
            sum((step, what) in flaw for flaw in now),
            len(now),
        )
        for step, what in dict.fromkeys(key for flaw in found for key in flaw)
    ]
    return Trend(tuple(days), tuple(sorted(flaws, key=lambda flaw: (-flaw.now, -flaw.before, flaw.step or 0))))


def _date(attempt: Attempt) -> date:
    return attempt.began.astimezone().date()


def _day(day: date, attempts: Sequence[Attempt]) -> Day:
    checkpoints = [c for attempt in attempts for c in json.loads(attempt.verdict)["checkpoints"] if c["judged"]]
    times, cents = ([abs(c[key]) for c in checkpoints if c[key] is not None] for key in ("timing_ms", "cents"))
    clean = sum(attempt.clean for attempt in attempts)
    return Day(day, len(attempts), clean, median(times) if times else None, median(cents) if cents else None)


def flaws_of(figure: dict[str, Any]) -> Iterator[tuple[tuple[int | None, str], tuple[int, ...]]]:
    """What went wrong in one attempt, and on which strings; nothing that is not sure. What was kept before anything was
    unsure says nothing of that."""
    strings: dict[tuple[int | None, str], set[int]] = {}
    for checkpoint in figure["checkpoints"]:
        if checkpoint.get("confidence", 1.0) < SURE:
            continue
        for fault in checkpoint["faults"]:
            what = _words(fault, checkpoint["cause"])
            strings.setdefault((checkpoint["step"], what), set()).add(checkpoint["string"])
    for extra in figure["extras"]:
        found = strings.setdefault((None, _words(extra["fault"], None)), set())
        if extra["string"] is not None:
            found.add(extra["string"])
    return ((key, tuple(sorted(found))) for key, found in strings.items())


def _words(fault: str, cause: str | None) -> str:
    """The same words for the same thing, however far off it was each time."""
    if cause is not None and fault in _EXPLAINED:
        return re.sub(r"\d+ cents ", "", cause)
    return _WORDS.get(fault, fault)
