"""Plants slips in a figure, and keeps only performances whose truth is plain.

A slip is proposed by chance, the figure is performed with it, and the truth is read off; if that finds anything but
what was meant, or anything near a limit, another one is proposed. So a planted fault is that fault by definition, and
what follows from it (later moves that cannot be judged) is part of the truth.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import Expectation, Note
from livecheck.lesson.figure import Step
from tests.bench.performance import Manner, Performance, Player, Struck, tolerance_s
from tests.bench.slips import Slip
from tests.bench.truth import FAILED, Finding, Unclear, extras_of, findings

MEANT: Mapping[str, frozenset[str]] = {
    "unstruck": frozenset({"missed"}),
    "other-string": frozenset({"wrong-note"}),
    "bar-fret": frozenset({"wrong-note", "missed-move"}),
    "bar-unmoved": frozenset({"wrong-note", "missed-move"}),
    "foot-unmoved": frozenset({"wrong-note", "missed-move"}),
    "late-picks": frozenset({"early", "late"}),
    "late-bar": frozenset({"early", "late"}),
    "late-foot": frozenset({"early", "late"}),
    "bar-cents": frozenset({"flat", "sharp"}),
    "foot-cents": frozenset({"flat", "sharp"}),
    "damped": frozenset({"cut-short"}),
    "undamped": frozenset({"rang-on"}),
    "struck-again": frozenset(),
    "stray": frozenset(),
}
WEIGHTS: Mapping[str, float] = {
    "unstruck": 1.3, "other-string": 0.6, "bar-fret": 0.7, "bar-unmoved": 1.4, "foot-unmoved": 1.4, "late-picks": 1.5,
    "late-bar": 1.1, "late-foot": 0.9, "bar-cents": 1.4, "foot-cents": 0.7, "damped": 0.9, "undamped": 0.9,
    "struck-again": 1.3, "stray": 1.1,
}  # fmt: skip
ASTRAY = frozenset({"other-string", "bar-fret", "bar-unmoved", "foot-unmoved"})
CLEAN_SHARE, TWO_SHARE = 0.4, 0.2
DENSE_CLEAN_SHARE, DENSE_TWO_SHARE = 0.15, 0.6
LEAST_GOOD_SHARE = 0.55
"""Of the checkpoints that must sound as asked, or no one could say that this is the figure."""
LEAST_OTHERS_IN_TIME = 3
"""Steps in time beside one that is not: with fewer, no one can tell which of them was out of time."""
APART = 0.75
"""Semitones by which anything that was not asked for differs from all else that sounds or should sound."""
SHADOWS = (12.0, 19.02, 24.0)
SHADOW_WIDTH = 0.3
"""A string so far above another hides in its partials: not planted, no ear could tell."""
CLEAR_S = 0.17
"""From a step to anything that is not asked for."""
AT_END_S = 0.5
"""The same at a figure's end, where it could be taken for the next figure's beginning."""


class Planter:
    def __init__(self, copedent: Copedent, manner: Manner, rng: np.random.Generator, dense: bool = False) -> None:
        self.copedent, self.manner, self.rng = copedent, manner, rng
        self.shares = (DENSE_CLEAN_SHARE, DENSE_TWO_SHARE) if dense else (CLEAN_SHARE, TWO_SHARE)

    def perform(
        self, expectation: Expectation, start_s: float, until_s: float, clean: bool | None = None
    ) -> Performance:
        """One attempt at a figure, clean or with a slip or two. `until_s`: when the next figure begins."""
        draw = self.rng.random()
        clean_share, two_share = self.shares
        count = 0 if clean or draw < clean_share else 2 if draw > 1.0 - two_share * (1.0 - clean_share) else 1
        slips: list[Slip] = []
        performance = self._try(expectation, start_s, until_s, [])
        tries = 0
        while performance is None:
            performance = self._try(expectation, start_s, until_s, [])
            tries += 1
            if tries > 200:
                raise Unclear(f"figure {expectation.figure.name} cannot be played cleanly")
        for _ in range(60):
            if len(slips) == count:
                break
            slip = self._propose(expectation)
            if slip is None or any(abs(slip.step - other.step) < 2 for other in slips):
                continue
            if any(MEANT[slip.kind] & MEANT[other.kind] & {"early", "late"} for other in slips):
                continue
            tried = self._try(expectation, start_s, until_s, [*slips, slip])
            if tried is not None:
                slips.append(slip)
                performance = tried
        return performance

    def _try(
        self, expectation: Expectation, start_s: float, until_s: float, slips: Sequence[Slip]
    ) -> Performance | None:
        player = Player(expectation, self.copedent, self.manner, start_s, until_s, slips, self.rng)
        performance = player.perform()
        try:
            found = findings(performance)
        except Unclear:
            return None
        if _is_masked(performance, found):
            return None
        faults = {fault for finding in found for fault in finding.faults}
        meant = frozenset[str]().union(*(MEANT[slip.kind] for slip in slips))
        if not faults <= meant:
            return None
        for slip in slips:
            if MEANT[slip.kind] and not MEANT[slip.kind] & {
                fault for f in found if f.checkpoint.step == slip.step for fault in f.faults
            }:
                return None
        expected_extras = sum(slip.kind in ("struck-again", "stray") for slip in slips)
        if len(extras_of(performance)) < expected_extras:
            return None
        failed = {f.note for f in found if FAILED & set(f.faults)}
        struck_again = {i: note for i, note in enumerate(performance.notes) if note is not None and note.again_s}
        if any(i in failed or note.end_s - max(note.again_s) < 0.15 for i, note in struck_again.items()):
            return None
        absent = [f.expected_s for f in found if "missed" in f.faults]
        unasked = [at_s for _, at_s, _, _ in extras_of(performance)]
        if any(abs(extra_s - at_s) < 1.1 * performance.beat_s for extra_s in unasked for at_s in absent):
            return None
        good = sum(f.judged and not FAILED & set(f.faults) for f in found)
        good_picks = {f.checkpoint.step for f in found if f.checkpoint.kind == "pick" and not FAILED & set(f.faults)}
        if good < LEAST_GOOD_SHARE * len(found) or (len(slips) and not good_picks):
            return None
        return performance if _plain(performance, slips) else None

    def _propose(self, expectation: Expectation) -> Slip | None:
        kinds = list(WEIGHTS)
        weights = np.array([WEIGHTS[kind] for kind in kinds])
        kind = kinds[int(self.rng.choice(len(kinds), p=weights / weights.sum()))]
        makers: Mapping[str, Callable[[Expectation], Iterator[Slip]]] = {
            "unstruck": self._unstruck, "other-string": self._other_string, "bar-fret": self._bar_fret,
            "bar-unmoved": self._bar_unmoved, "foot-unmoved": self._foot_unmoved, "late-picks": self._late_picks,
            "late-bar": self._late_bar, "late-foot": self._late_foot, "bar-cents": self._bar_cents,
            "foot-cents": self._foot_cents, "damped": self._damped, "undamped": self._undamped,
            "struck-again": self._struck_again, "stray": self._stray,
        }  # fmt: skip
        options = list(makers[kind](expectation))
        return options[int(self.rng.integers(len(options)))] if options else None

    def _sign(self) -> float:
        return 1.0 if self.rng.random() < 0.5 else -1.0

    def _unstruck(self, expectation: Expectation) -> Iterator[Slip]:
        for step in _picks(expectation):
            for string in step.pick:
                yield Slip("unstruck", step.number, (string,))

    def _other_string(self, expectation: Expectation) -> Iterator[Slip]:
        for note in expectation.notes:
            for other in (note.string - 1, note.string + 1):
                inside = 1 <= other <= len(self.copedent.strings)
                if inside and not any(_overlap(note, n) for n in expectation.notes if n.string == other):
                    yield Slip("other-string", note.checkpoints[0].step, (note.string,), other=other)

    def _bar_fret(self, expectation: Expectation) -> Iterator[Slip]:
        for step in expectation.figure.steps:
            frets = [fret for _, fret in step.stance.bar.frets]
            for by in (-2.0, -1.0, -1.0, 1.0, 1.0, 2.0):
                if (step.pick or step.moves_bar) and min(frets) + by >= 1.0 and min(frets) > 0.0:
                    yield Slip("bar-fret", step.number, amount=by)

    def _bar_unmoved(self, expectation: Expectation) -> Iterator[Slip]:
        for step in expectation.figure.steps[1:]:
            if step.moves_bar and (step.is_move or step.pick):
                for _ in range(3 if step.is_move else 1):
                    yield Slip("bar-unmoved", step.number)

    def _foot_unmoved(self, expectation: Expectation) -> Iterator[Slip]:
        before: Mapping[str, float] = {}
        for step in expectation.figure.steps:
            for name in sorted({*before, *step.stance.down}):
                if before.get(name, 0.0) != step.stance.down.get(name, 0.0):
                    yield Slip("foot-unmoved", step.number, pedal=name)
            before = step.stance.down

    def _off_s(self, expectation: Expectation, step: Step, pick: bool) -> float:
        tolerance = tolerance_s(expectation, step.number, self.manner.beat_s, pick)
        return self._sign() * tolerance * float(self.rng.uniform(1.65, 2.5))

    def _late_picks(self, expectation: Expectation) -> Iterator[Slip]:
        for step in _picks(expectation):
            if _can_be_timed(expectation, step):
                off_s = self._off_s(expectation, step, True)
                yield Slip("late-picks", step.number, amount=abs(off_s) if step.number == 1 else off_s)

    def _late_bar(self, expectation: Expectation) -> Iterator[Slip]:
        for step in expectation.figure.steps:
            if step.is_move and step.moves_bar and _can_be_timed(expectation, step):
                yield Slip("late-bar", step.number, amount=self._off_s(expectation, step, False))

    def _late_foot(self, expectation: Expectation) -> Iterator[Slip]:
        for step in expectation.figure.steps:
            if step.is_move and step.moves_changes and _can_be_timed(expectation, step):
                yield Slip("late-foot", step.number, amount=self._off_s(expectation, step, False))

    def _bar_cents(self, expectation: Expectation) -> Iterator[Slip]:
        for step in expectation.figure.steps:
            if step.pick or step.moves_bar:
                yield Slip("bar-cents", step.number, amount=self._sign() * float(self.rng.uniform(24.0, 40.0)))

    def _foot_cents(self, expectation: Expectation) -> Iterator[Slip]:
        before: Mapping[str, float] = {}
        for step in expectation.figure.steps:
            for name, level in sorted(step.stance.down.items()):
                if before.get(name, 0.0) != level and level == 1.0:
                    yield Slip("foot-cents", step.number, amount=float(self.rng.uniform(24.0, 40.0)), pedal=name)
            before = step.stance.down

    def _damped(self, expectation: Expectation) -> Iterator[Slip]:
        for note in expectation.notes:
            last = note.checkpoints[-1]
            together = [
                n for n in expectation.notes if n.checkpoints[-1].step == last.step and n.end_beat == note.end_beat
            ]
            share = float(self.rng.uniform(0.15, 0.36))
            if share * (note.end_beat - last.beat) * self.manner.beat_s > 0.16:
                yield Slip("damped", last.step, (note.string,), amount=share)
                yield Slip("damped", last.step, tuple(n.string for n in together), amount=share)

    def _undamped(self, expectation: Expectation) -> Iterator[Slip]:
        limit = max(0.25, 0.5 * self.manner.beat_s)
        for note in expectation.notes:
            room = min(
                [
                    float(1 + expectation.figure.length),
                    *(
                        n.start_beat
                        for n in expectation.notes
                        if n.string == note.string and n.start_beat >= note.end_beat - 1e-9
                    ),
                ]
            )
            amount = limit * float(self.rng.uniform(1.4, 2.6))
            if note.ending != "end" and (room - note.end_beat) * self.manner.beat_s > amount + 0.05:
                yield Slip("undamped", note.checkpoints[-1].step, (note.string,), amount=amount)

    def _struck_again(self, expectation: Expectation) -> Iterator[Slip]:
        for step, after_s in self._free_times(expectation):
            beat = float(step.beat) + after_s / self.manner.beat_s
            ringing = [
                n
                for n in expectation.notes
                if n.start_beat <= float(step.beat) + 1e-9 and n.end_beat > beat + 0.15 / self.manner.beat_s
            ]
            if ringing:
                yield Slip("struck-again", step.number, tuple(n.string for n in ringing), amount=after_s)
                one = ringing[int(self.rng.integers(len(ringing)))]
                yield Slip("struck-again", step.number, (one.string,), amount=after_s)

    def _stray(self, expectation: Expectation) -> Iterator[Slip]:
        for step, after_s in self._free_times(expectation):
            beat = float(step.beat) + after_s / self.manner.beat_s
            near = [n for n in expectation.notes if n.start_beat < beat + 2.0 and n.end_beat > beat - 1.0]
            for string in range(1, len(self.copedent.strings) + 1):
                if all(n.string != string for n in near):
                    yield Slip("stray", step.number, (string,), amount=after_s, other=string)

    def _free_times(self, expectation: Expectation) -> Iterator[tuple[Step, float]]:
        """A time after each step at which nothing is asked for, if there is one; often during the next move."""
        steps = expectation.figure.steps
        end = float(1 + expectation.figure.length)
        for step, after in zip(steps, [*steps[1:], None], strict=True):
            last = float(step.beat + step.roll * max(0, len(step.pick) - 1)) - float(step.beat)
            gap_s = ((float(after.beat) if after else end) - float(step.beat)) * self.manner.beat_s
            low, high = CLEAR_S + last * self.manner.beat_s, gap_s - (CLEAR_S if after else AT_END_S)
            if after is not None and after.is_move and self.rng.random() < 0.5:
                low = max(low, gap_s - float(after.over) * self.manner.beat_s)
            if high > low:
                yield step, float(self.rng.uniform(low, high))


def _picks(expectation: Expectation) -> list[Step]:
    return [step for step in expectation.figure.steps if step.pick]


def _can_be_timed(expectation: Expectation, step: Step) -> bool:
    """Whether enough else is in time. A figure that begins late needs one more, so does a roll for each string."""
    others = {c.step for c in expectation.checkpoints} - {step.number}
    needed = LEAST_OTHERS_IN_TIME + (step.number == 1) + (len(step.pick) - 1 if step.roll else 0)
    return len(others) >= needed


def _overlap(one: Note, other: Note) -> bool:
    return one.start_beat < other.end_beat + 0.5 and other.start_beat < one.end_beat + 0.5


@dataclass(frozen=True)
class _Odd:
    """A stretch of sound that was not asked for."""

    struck: Struck
    note: Note | None
    """The note in whose place it sounds."""
    since_s: float
    until_s: float
    shadows: bool
    """Whether it must not lie in the partials of another string either."""


def _is_masked(performance: Performance, found: Sequence[Finding]) -> bool:
    """Whether one of two strings in unison has a fault that the other has not: no ear could tell which."""
    notes = performance.expectation.notes
    told = {(f.note, f.checkpoint.step): f.faults for f in found}
    for finding in (f for f in found if f.faults):
        for index, other in enumerate(notes):
            together = other.checkpoints[0].step == finding.checkpoint.step
            beat = max(finding.checkpoint.beat, other.start_beat if together else 0.0) + 0.01
            if index == finding.note or not other.start_beat <= beat < other.end_beat:
                continue
            apart = abs(float(other.midi_at(np.array([beat]))[0]) - finding.checkpoint.midi)
            if apart < APART and told.get((index, finding.checkpoint.step)) != finding.faults:
                return True
    return False


def _plain(performance: Performance, slips: Sequence[Slip]) -> bool:
    """Whether nothing that was not asked for coincides with something else that sounds or should sound."""
    hidden = any(_hidden(performance, slip) for slip in slips if slip.kind == "unstruck")
    return not hidden and all(_distinct(performance, odd) for slip in slips for odd in _oddities(performance, slip))


def _oddities(performance: Performance, slip: Slip) -> Iterator[_Odd]:
    if slip.kind == "stray":
        for stray in performance.strays:
            yield _Odd(stray, None, stray.start_s - 0.2, stray.end_s + 0.2, True)
    for note, struck in zip(performance.expectation.notes, performance.notes, strict=True):
        first, last = note.checkpoints[0].step, note.checkpoints[-1].step
        if struck is None:
            continue
        if slip.kind == "undamped" and last == slip.step and note.string in slip.strings:
            yield _Odd(struck, note, performance.time_of(note.end_beat), struck.end_s, True)
        if slip.kind in ASTRAY and first <= slip.step <= last and _is_astray(performance, note, struck, slip.step):
            yield _Odd(struck, note, struck.start_s, struck.end_s, slip.kind == "other-string")


def _is_astray(performance: Performance, note: Note, struck: Struck, step: int) -> bool:
    beat = float(performance.expectation.figure.steps[step - 1].beat)
    asked = float(note.midi_at(np.array([beat]))[0])
    return abs(struck.midi_at(performance.time_of(beat) + 0.08) - asked) > 0.5


def _hidden(performance: Performance, slip: Slip) -> bool:
    """Whether an unstruck string's sound would lie in the partials of another one."""
    notes = performance.expectation.notes
    for note in notes:
        if note.checkpoints[0].step != slip.step or note.string not in slip.strings:
            continue
        beat = note.start_beat + 0.05
        for other in notes:
            if other is not note and other.start_beat <= beat < other.end_beat:
                apart = note.checkpoints[0].midi - other.midi_at(np.array([beat]))
                if _meets(apart, True):
                    return True
    return False


def _distinct(performance: Performance, odd: _Odd) -> bool:
    times = np.arange(odd.since_s, odd.until_s, 0.02)
    curve = np.interp(times, odd.struck.times_s, odd.struck.plain)
    beats = 1.0 + (times - performance.start_s) / performance.beat_s
    for other in performance.expectation.notes:
        inside = (beats >= other.start_beat) & (beats < other.end_beat)
        if other is not odd.note and _meets(curve[inside] - other.midi_at(beats[inside]), odd.shadows):
            return False
    for sounding in performance.sounded:
        inside = (times >= sounding.start_s) & (times < sounding.end_s)
        apart = curve[inside] - np.interp(times[inside], sounding.times_s, sounding.plain)
        if sounding is not odd.struck and _meets(apart, odd.shadows):
            return False
    return True


def _meets(apart: NDArray[np.float64], shadows: bool) -> bool:
    if np.any(np.abs(apart) < APART):
        return True
    return shadows and any(bool(np.any(np.abs(apart - shadow) < SHADOW_WIDTH)) for shadow in SHADOWS)
