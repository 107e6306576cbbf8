"""Where the moves of one string arrived, and on which pitch it settled after each.

In: a note as it is asked, its curve as it was heard, and the clock. Out: for each checkpoint of the note the glide that
led to it. Bar and pedals add: where two moves overlap, each is looked for in what the other one leaves of the curve.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import compress, pairwise, product

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.heard import GRID_S, SETTLE_S
from livecheck.hearing.median import median
from livecheck.hearing.score import TimedScore, Window
from livecheck.judging.verdicts.chain import Chain, Curve
from livecheck.judging.verdicts.glide import LOW, glide_of
from livecheck.lesson.expectation import Checkpoint, Note
from livecheck.lesson.figure import Figure

LEAST_SETTLED_S = 0.08
"""A shorter part is no settled pitch."""
MOSTLY_SETTLED = 0.6
"""So much of that part before anything moves tells its middle pitch."""
SETTLED_SHARE, SHORTEST_TAIL_S = 0.5, 0.12
"""The last part of the way from a move's time to the next thing on its string: by then it has settled."""
EARLY_MOVE_S = 0.02
"""A move may begin so much before it is written without being told from one that begins in time."""
BEYOND_S = 0.12
"""How far beyond its window a string that is still moving there is looked at for where it settles."""
UNDER_WAY = 0.35
"""A curve that lacks this share of a move at the end of where it was looked for is still moving."""
LEAST_GLIDE_SEMITONES = 0.05
ROUNDS = 3
"""How often moves that overlap are looked for, each given the others."""
DEPARTURE_SEMITONES = 0.3
"""A string that leaves its pitch so far, and does not come back, has moved on."""


@dataclass(frozen=True)
class Glide:
    """A string on its way from one pitch to another."""

    start_s: float
    end_s: float
    from_midi: float
    to_midi: float

    def moved(self, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Semitones of it that were made at some times."""
        ends = (self.start_s, max(self.end_s, self.start_s + 1e-6))
        return np.interp(times_s, ends, (0.0, self.to_midi - self.from_midi))


class Arrivals:
    """The glides of one string from its pick to its end."""

    def __init__(self, note: Note, chain: Chain, score: TimedScore, blur_s: float) -> None:
        self._note = note
        self._chain = chain
        self._score = score
        self._blur_s = blur_s
        self._departures = _departures(note, score.expectation.figure)
        level = self._first_level()
        glides = self._find(level)
        if chain.steady(self._knots(glides, level)):
            glides = self._find(self._first_level())
        self.glides = glides
        """For each checkpoint of the note its glide; None for the pick, and for a move that did not come."""

    def settled(self, index: int, heard_s: float) -> float | None:
        """The middle pitch from a little after a checkpoint until the string moves again or ends; None if that is
        too short."""
        following = next((glide for glide in self.glides[index + 1 :] if glide is not None), None)
        return self._settled(index, heard_s, following)

    def _find(self, level: float) -> list[Glide | None]:
        """The glides, given the pitch right after the pick."""
        glides: list[Glide | None] = [None]
        for group in _groups(self._note.checkpoints[1:]):
            found = self._of_group(group, level, next((g.end_s for g in reversed(glides) if g), self._chain.start_s))
            level += sum(glide.to_midi - glide.from_midi for glide in found if glide)
            level = level if any(found) else self._astray(group, level)
            glides += found
        return glides

    def _astray(self, group: Sequence[Checkpoint], level: float) -> float:
        """The pitch on which a string rests that made none of some moves, which may be another one than before; of one
        that was lost then, that on which it is heard again before it moves on."""
        window = self._score.window(group[-1])
        limit_s = self._limit_s(window, group[-1])
        tail = self._tail(window, sum(map(_asked, group)), limit_s)
        if not len(tail):
            _, tail = self._chain.curve(window.stop_s, limit_s)
        if not len(tail):
            return level
        rest = median(tail)
        return rest if np.mean(np.abs(tail - rest) < DEPARTURE_SEMITONES) > MOSTLY_SETTLED else level

    def _knots(self, glides: Sequence[Glide | None], level: float) -> list[tuple[float, float]]:
        """The curve that some glides and the levels between them make, given the first of these."""
        came = [glide for glide in glides if glide is not None]
        level = came[0].from_midi if came else level
        times = np.array(sorted({self._chain.start_s, *(time for g in came for time in (g.start_s, g.end_s))}))
        levels = np.full(len(times), level)
        for glide in came:
            levels += glide.moved(times)
        return list(zip(times.tolist(), levels.tolist(), strict=True))

    def _of_group(self, group: Sequence[Checkpoint], level: float, free_s: float) -> list[Glide | None]:
        """The glides of moves that overlap, or of one that does not; `free_s`: when the glide before ended.

        Where moves overlap, how far the string came altogether tells which of them were made; then each is looked for
        in what the others leave of the curve, the slowest first.
        """
        stop_s = self._left_s(group, level)
        made = self._made(group, level, stop_s)
        found = {one.step: self._written(one, level, to) for one, to in made}
        came: dict[int, Glide | None] = {one.step: None for one in group}
        for _ in range(ROUNDS if len(made) > 1 else 1):
            for one, to in sorted(made, key=lambda move: -move[0].over):
                others = [glide for step, glide in found.items() if step != one.step]
                rest = self._chain.midis - sum((g.moved(self._chain.times_s) for g in others), np.float64(0.0))
                glide = came[one.step] = self._glide(one, rest, level, to, (free_s, stop_s))
                found[one.step] = glide or found[one.step]
        return [came[one.step] for one in group]

    def _left_s(self, group: Sequence[Checkpoint], level: float) -> float:
        """When a string left the pitch to which moves were to take it, if it stood there and went on too early, in
        their window or as it ends; else never."""
        target = level + sum(_asked(one) for one in group)
        following = next((_asked(one) for one in self._note.checkpoints if one.beat > group[-1].beat), None)
        if following is None:
            return math.inf
        window = self._score.window(group[-1])
        times, midis = self._chain.curve(window.start_s, window.stop_s + BEYOND_S)
        near = np.abs(midis - target) < DEPARTURE_SEMITONES
        runs = np.flatnonzero(np.diff(near, prepend=False, append=False)).reshape(-1, 2)
        begin, end = max(runs, key=lambda run: run[1] - run[0], default=(0, 0))
        moved_on = end < len(midis) and (midis[-1] - target) * np.sign(following) > UNDER_WAY * abs(following) > 0.0
        return float(times[end - 1]) if moved_on and (end - begin) * GRID_S > LEAST_SETTLED_S else math.inf

    def _made(self, group: Sequence[Checkpoint], level: float, stop_s: float) -> list[tuple[Checkpoint, float]]:
        """The moves that were made, each with the pitch to which it alone would have taken the string; the string is
        looked at until `stop_s`."""
        last = group[-1]
        window = self._score.window(last)
        asked = [_asked(one) for one in group]
        tail = self._tail(window, sum(asked), min(self._limit_s(window, last), stop_s))
        if not len(tail):
            return []
        moved = median(tail) - level
        chosen = min(
            product((True, False), repeat=len(group)), key=lambda which: abs(sum(compress(asked, which)) - moved)
        )
        if not any(chosen) or abs(moved) <= LEAST_GLIDE_SEMITONES:
            return []
        made = list(compress(zip(group, asked, strict=True), chosen))
        rest, size = moved - sum(semitones for _, semitones in made), sum(abs(semitones) for _, semitones in made)
        return [(one, level + semitones + rest * abs(semitones) / size) for one, semitones in made]

    def _written(self, one: Checkpoint, level: float, to: float) -> Glide:
        return Glide(self._score.time_s(one.beat - one.over), self._score.time_s(one.beat), level, to)

    def _glide(
        self, one: Checkpoint, midis: NDArray[np.float64], level: float, settled: float, within_s: tuple[float, float]
    ) -> Glide | None:
        """When a move from one pitch to another was made on a curve, between two times; None if not in its window."""
        free_s, stop_s = within_s
        window = self._score.window(one)
        window = replace(window, stop_s=min(window.stop_s, stop_s))
        begin_s = max(min(window.start_s, self._score.time_s(one.beat - one.over) - EARLY_MOVE_S), free_s)
        earlier_s = max(window.start_s - one.over * self._score.beat_s - EARLY_MOVE_S, free_s)
        times, values = self._part(midis, begin_s, window.stop_s)
        if len(times) < 3:
            return None
        share = (values[[0, -1]] - level) / (settled - level)
        if share[0] > LOW or share[1] < 1.0 - UNDER_WAY:
            begin_s = earlier_s if share[0] > LOW else begin_s
            stop_s = window.stop_s + (BEYOND_S if share[1] < 1.0 - UNDER_WAY else 0.0)
            times, values = self._part(midis, begin_s, stop_s)
        found = glide_of(times, values, level, settled, self._blur_s) or (float(times[0]), float(times[0]))
        start_s, end_s = found
        if end_s > window.stop_s + EARLY_MOVE_S:
            return None
        return Glide(start_s, max(end_s, window.start_s), level, settled)

    def _limit_s(self, window: Window, last: Checkpoint) -> float:
        """Until when a string stays where a move has put it: until it moves again, or ends, or the bar sets out, which
        takes one along that rings on."""
        changes = [
            begin
            for (begin, a), (_, b) in pairwise(self._note.knots)
            if begin >= last.beat - 1e-6 and abs(a - b) > 1e-9
        ]
        changes += [begin for begin, after in self._departures if after > last.beat + 1e-6]
        limit_s = min([self._chain.heard_until_s, *(self._score.time_s(beat) - EARLY_MOVE_S for beat in changes)])
        return max(limit_s, min(window.expected_s + SETTLE_S, self._chain.heard_until_s))

    def _tail(self, window: Window, asked: float, limit_s: float) -> NDArray[np.float64]:
        """The part of the curve on which a move has settled; later than its window where it is still moving there."""
        stop_s = min(window.stop_s, limit_s)
        length_s = max(SHORTEST_TAIL_S, SETTLED_SHARE * (stop_s - window.expected_s))
        start_s = min(max(window.expected_s, stop_s - length_s), stop_s - 6 * GRID_S)
        _, tail = self._chain.curve(start_s, stop_s)
        later_s = min(window.stop_s + BEYOND_S, limit_s, self._score.time_s(self._note.end_beat))
        if len(tail) and later_s > stop_s + SETTLE_S and abs(tail[-1] - tail[0]) > UNDER_WAY * abs(asked):
            _, tail = self._chain.curve(max(stop_s - EARLY_MOVE_S, later_s - BEYOND_S), later_s)
        return tail

    def _part(self, midis: NDArray[np.float64], start_s: float, stop_s: float) -> Curve:
        """A part of a curve on the chain's times."""
        span = self._chain.span(start_s, stop_s)
        return self._chain.times_s[span], midis[span]

    def _first_level(self) -> float:
        """The pitch right after the pick, before anything moves; where it stays on what it soon came to, how it came
        there is a slide into the pick."""
        asked = self._score.sounding(self._note.checkpoints[0])
        start_s = self._chain.start_s
        settled = self._settled(0, start_s, None)
        soon = self._chain.median_midi(start_s + SETTLE_S, start_s + 3 * SETTLE_S)
        if settled is not None and soon is not None and abs(soon - settled) < DEPARTURE_SEMITONES:
            return settled
        levels = (settled, soon, self._chain.median_midi(start_s, start_s + SETTLE_S))
        return min(
            (level for level in levels if level is not None), key=lambda level: abs(level - asked), default=asked
        )

    def _settled(self, index: int, heard_s: float, following: Glide | None) -> float | None:
        note, chain, score = self._note, self._chain, self._score
        stop_s = min(chain.heard_until_s, score.time_s(note.end_beat) if following is None else following.start_s)
        if index + 1 < len(note.checkpoints) and following is None:
            after = note.checkpoints[index + 1]
            stop_s = min(stop_s, score.time_s(after.beat - after.over) - EARLY_MOVE_S)
        beat = note.checkpoints[index].beat
        start_s = heard_s + SETTLE_S
        if stop_s - start_s < LEAST_SETTLED_S:
            return None
        stop_s = min([stop_s, *(score.time_s(begin) for begin, after in self._departures if after > beat + 1e-6)])
        if stop_s - start_s < MOSTLY_SETTLED * LEAST_SETTLED_S:
            return None
        stop_s = max(stop_s, start_s + LEAST_SETTLED_S)
        _, midis = chain.curve(start_s, stop_s)
        if not len(midis):
            return None
        first = median(midis[: max(round(LEAST_SETTLED_S / GRID_S), len(midis) // 3)])
        stays = np.flatnonzero(np.abs(midis - first) < DEPARTURE_SEMITONES)
        return median(midis[: stays[-1] + 1]) if len(stays) else first


def _asked(arrival: Checkpoint) -> float:
    """Semitones by which a move is to change the pitch."""
    assert arrival.from_midi is not None
    return arrival.midi - arrival.from_midi


def _groups(arrivals: Sequence[Checkpoint]) -> list[list[Checkpoint]]:
    """Arrivals in order, those together whose ways overlap."""
    groups: list[list[Checkpoint]] = []
    for one in arrivals:
        if groups and one.beat - one.over < groups[-1][-1].beat - 1e-6:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups


def _departures(note: Note, figure: Figure) -> list[tuple[float, float]]:
    """The beats on which a string sets out though no checkpoint tells, each with the one that a beat must come before
    to be left by it."""
    return [*((begin, begin) for begin in _small_moves(note)), *_balanced_moves(note, figure)]


def _small_moves(note: Note) -> list[float]:
    """The beats on which moves begin that are too small to be checkpoints."""
    arrivals = [checkpoint.beat for checkpoint in note.checkpoints[1:]]
    return [
        begin
        for (begin, before), (end, after) in pairwise(note.knots)
        if before != after and not any(begin < arrival <= end + 1e-6 for arrival in arrivals)
    ]


def _balanced_moves(note: Note, figure: Figure) -> list[tuple[float, float]]:
    """The beats on which the bar begins to move while a string rings, and has moved, though pedals take back what it
    does: however well they do it the string is on its way."""
    return [
        (float(after.beat - after.over), float(after.beat))
        for before, after in pairwise(figure.steps[note.checkpoints[0].step - 1 :])
        if before.stance.bar.fret_at(note.string) != after.stance.bar.fret_at(note.string)
        and float(after.beat) < note.end_beat + 1e-6
    ]
