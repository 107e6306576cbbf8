"""One mistake as a person counts it: what one slip did to however many strings and steps.

In: the verdict on a figure. Out: its mistakes, each with the checkpoints or extras that it shows in. A bar short of its
fret is one mistake, not one for each string; so is a slide that is late on three strings.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from statistics import fmean
from typing import TypeVar

from livecheck.judging.verdict import CheckpointVerdict, Extra, ExtraVerdict, Fault, FigureVerdict
from livecheck.lesson.expectation import Kind
from livecheck.lesson.figure import Step

TOGETHER_MS = 60.0
"""Strings late by amounts no further apart were late for one reason."""
PITCH_FAULTS: tuple[Fault, ...] = ("wrong-note", "missed-move", "missed", "flat", "sharp")
"""The faults that a cause explains, the worst first."""


@dataclass(frozen=True)
class Mistake:
    fault: Fault | Extra
    steps: tuple[int, ...]
    strings: tuple[int, ...]
    checkpoints: tuple[CheckpointVerdict, ...] = ()
    extras: tuple[ExtraVerdict, ...] = ()
    cause: str | None = None

    @property
    def kind(self) -> Kind:
        return self.checkpoints[0].kind

    @property
    def offs_ms(self) -> list[float]:
        return [c.timing_ms for c in self.checkpoints if c.timing_ms is not None]

    @property
    def offs_cents(self) -> list[float]:
        return [c.cents for c in self.checkpoints if c.cents is not None]

    @property
    def weight(self) -> float:
        """How much it matters to a listener, for putting the worst first: a wrong note more than a late one,
        a very late one as much as a wrong one."""
        many = 5.0 * (len(self.strings) - 1)
        if self.fault in ("early", "late"):
            return min(95.0, fmean(map(abs, self.offs_ms)) / 4.0) + many if self.offs_ms else many
        if self.fault in ("flat", "sharp"):
            return min(90.0, 1.5 * fmean(map(abs, self.offs_cents))) + many if self.offs_cents else many
        return {"extra-pick": 80.0, "extra-note": 70.0, "cut-short": 35.0, "rang-on": 30.0}.get(
            self.fault, 100.0
        ) + many


def mistakes_of(verdict: FigureVerdict) -> list[Mistake]:
    """A figure's mistakes, the worst first; without those that may be none."""
    found: list[Mistake] = []
    for mistake in [*_of_checkpoints(c for c in verdict.checkpoints if c.sure), *_of_extras(verdict.extras)]:
        earlier = next((m for m in found if _goes_on(m, mistake, verdict.figure.steps)), None)
        if earlier is None:
            found.append(mistake)
        else:
            found[found.index(earlier)] = _joined(earlier, mistake)
    return sorted(found, key=lambda mistake: -mistake.weight)


def _of_checkpoints(checkpoints: Iterable[CheckpointVerdict]) -> Iterator[Mistake]:
    for _, group in groupby(sorted(checkpoints, key=lambda c: (c.step, c.string)), key=lambda c: c.step):
        at_step = list(group)
        explained = [c for c in at_step if c.cause and any(fault in PITCH_FAULTS for fault in c.faults)]
        for cause, several in _grouped(explained, lambda c: c.cause):
            worst = next(fault for fault in PITCH_FAULTS if any(fault in c.faults for c in several))
            yield _mistake(worst, several, cause)
        rest = [(fault, c) for c in at_step for fault in c.faults if not (c in explained and fault in PITCH_FAULTS)]
        for fault, pairs in _grouped(rest, lambda pair: pair[0]):
            for _, kin in _grouped([c for _, c in pairs], lambda c: c.kind):
                yield from _of_one_time(fault, kin)


def _of_one_time(fault: Fault, checkpoints: list[CheckpointVerdict]) -> Iterator[Mistake]:
    """Late strings of one step are one mistake, unless bar and foot were late by different amounts."""
    offs_ms = [c.timing_ms for c in checkpoints if c.timing_ms is not None]
    if fault in ("early", "late") and offs_ms and max(offs_ms) - min(offs_ms) > TOGETHER_MS:
        for _, kin in _grouped(checkpoints, lambda c: c.move):
            yield _mistake(fault, kin)
    else:
        yield _mistake(fault, checkpoints)


def _mistake(fault: Fault, checkpoints: list[CheckpointVerdict], cause: str | None = None) -> Mistake:
    strings = tuple(sorted({c.string for c in checkpoints}))
    return Mistake(fault, (checkpoints[0].step,), strings, tuple(checkpoints), cause=cause)


def _of_extras(extras: Iterable[ExtraVerdict]) -> Iterator[Mistake]:
    for (fault, step), several in _grouped(sorted(extras, key=lambda e: e.at_s), lambda e: (e.fault, e.step)):
        strings = tuple(sorted({e.string for e in several if e.string is not None}))
        yield Mistake(fault, () if step is None else (step,), strings, extras=tuple(several))


def _goes_on(earlier: Mistake, later: Mistake, steps: tuple[Step, ...]) -> bool:
    """Whether a mistake is only the one before, not yet put right: the bar lies where it lay, the pedal is still up."""
    if earlier.cause is None or later.cause is None or _sort_of(earlier.cause) != _sort_of(later.cause):
        return False
    between = steps[earlier.steps[-1] : later.steps[0]]
    if later.cause.startswith("bar "):
        return not any(step.moves_bar for step in between)
    return not later.cause.startswith("string") and not any(step.moves_bar or step.moves_changes for step in between)


def _joined(earlier: Mistake, later: Mistake) -> Mistake:
    strings = tuple(sorted({*earlier.strings, *later.strings}))
    checkpoints = earlier.checkpoints + later.checkpoints
    return Mistake(earlier.fault, earlier.steps + later.steps, strings, checkpoints, cause=earlier.cause)


def _sort_of(cause: str) -> str:
    return re.sub(r"\d+ cents", "cents", cause)


Item = TypeVar("Item")
Key = TypeVar("Key", bound=Hashable)


def _grouped(items: Iterable[Item], key: Callable[[Item], Key]) -> list[tuple[Key, list[Item]]]:
    """Items that share a key, in the order in which the keys first come."""
    groups: dict[Key, list[Item]] = {}
    for item in items:
        groups.setdefault(key(item), []).append(item)
    return list(groups.items())
