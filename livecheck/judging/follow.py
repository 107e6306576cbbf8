"""Which figure is being played, and where in it the player is.

One dynamic programme over the positions of all figures, with a gap state before, between and after them. A position is
one place in a figure, `HOP_S` of the lesson's own time apart, where the pitches of all ringing strings are known. In
each frame the player stays, goes on, or skips ahead, within 0 to 3 times the lesson's tempo, or leaves for the gap, or
enters a figure.

The path answers which event is which; it bends to whatever was played, so no time is ever judged by it.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Container, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.ear import Glance
from livecheck.hearing.salience import HOP_S, STEPS_A_SEMITONE, grid_index
from livecheck.lesson.expectation import Expectation

NEEDED = 0.28
"""Support per frame below which a stretch is better explained by the gap."""
STAY_COST, SKIP_COST, LEAP_COST = 0.08, 0.03, 0.12
ENTRY_COST = 4.0
BACKWARD_COST, LEFT_OUT_COST, AGAIN_COST = 15.0, 2.0, 1.0
"""Figures come in the lesson's order unless the sound says so clearly; each one left out costs a little."""
LEAVE_COST = 20.0
"""For giving a figure up before its last checkpoint."""
PICK_BONUS = 1.5
NOTHING, EVERYTHING = np.float32(0.05), np.float32(0.18)
"""Share of the sound that a chord accounts for: with the first it explains nothing, with the second all that is
ever explained."""
ELSEWHERE = {-2: 0.7, -1: 0.75, 1: 0.75, 2: 0.7}
"""The same strings with the bar some frets off still tell where the player is, for less."""
ALONE_SHARE = 0.7
"""And for less still where one string sounds alone: it has no neighbours to be known by."""
MOST_STRINGS = 6
ONE_OFF_SHARE = 0.8
"""What a chord is worth, to a forgiving follower, in which one string is wrong or has died away."""
LEAST_COUNTED = np.float32(0.5)
"""A sound of which no pitch accounts for much still counts so much to a forgiving follower."""
FORGIVING_NEEDED, FORGIVEN_SILENCE, FORGIVING_ENTRY_COST = 0.2, 0.02, 2.0
"""Support below which the gap explains more, and what a silent frame costs, where strings may have died away."""
SETTLE_FRAMES, SETTLE_GROWTH = 256, 1.5
"""It is looked for what can be let go of after so many more frames, and only when so many times more are kept than were
left: looking costs time for each of them."""
SAME_BEAT = 0.02
_STAY, _STEP, _SKIP, _LEAP, _ENTER = range(5)
_NEVER = np.float32(-1e9)


@dataclass(frozen=True)
class Passage:
    """One figure as it was found in the take: when the player was at which beat."""

    figure: int
    """Index among the expectations."""
    times_s: NDArray[np.float64]
    beats: NDArray[np.float64]
    """The beat reached at each time; never falling."""
    support: float
    """Mean support per frame; `NEEDED` or less is no better than chance."""
    doubtful: bool = False
    """Found by a forgiving follower only."""

    def dwelt_s(self, beat: float) -> float:
        """How long the player seemed to stay at a beat."""
        return float((np.abs(self.beats - beat) < SAME_BEAT).sum()) * HOP_S

    def time_of(self, beat: float) -> float:
        """When a beat was reached, in seconds."""
        at = int(np.searchsorted(self.beats, beat - 1e-9))
        if at >= len(self.beats):
            return float(self.times_s[-1])
        if at == 0 or self.beats[at] == self.beats[at - 1]:
            return float(self.times_s[at])
        share = (beat - self.beats[at - 1]) / (self.beats[at] - self.beats[at - 1])
        return float(self.times_s[at - 1] + share * (self.times_s[at] - self.times_s[at - 1]))


class _Map:
    """All figures' positions laid end to end, two dead places before each so that nothing runs over."""

    def __init__(self, expectations: Sequence[Expectation], beat_s: float) -> None:
        self.figure: list[int] = []
        self.beat: list[float] = []
        self.first: list[int] = []
        chords: dict[tuple[int, ...], int] = {(): 0}
        chord_of: list[int] = []
        picks: list[bool] = []
        dead: list[bool] = []
        leave: list[float] = []
        for index, expectation in enumerate(expectations):
            count = max(2, round(float(expectation.figure.length) * beat_s / HOP_S))
            beats = 1.0 + np.arange(count) * float(expectation.figure.length) / count
            last = expectation.beats[-1]
            self.first.append(len(self.beat) + 3)
            self.figure += [index] * (count + 3)
            self.beat += [1.0] * 3 + beats.tolist()
            dead += [True] * 3 + [False] * count
            leave += [0.0] * 3 + np.where(beats >= last, 0.0, LEAVE_COST).tolist()
            struck = {int(np.argmin(np.abs(beats - note.start_beat))) for note in expectation.notes}
            picks += [False] * 3 + [i in struck for i in range(count)]
            pitches = np.full((len(expectation.notes), count), np.nan)
            for row, note in enumerate(expectation.notes):
                begin = float(expectation.figure.steps[note.checkpoints[0].step - 1].beat)
                inside = (beats >= begin - 1e-6) & (beats < note.end_beat - 1e-6)
                pitches[row, inside] = note.midi_at(beats[inside])
            chord_of += [0] * 3
            for column in pitches.T:
                chord = tuple(sorted({int(i) // 2 * 2 for i in grid_index(column[np.isfinite(column)])}))[:MOST_STRINGS]
                chord_of.append(chords.setdefault(chord, len(chords)))
        self.chord_of = np.array(chord_of)
        self.picks = np.array(picks)
        self.dead = np.array(dead)
        self.leave = np.array(leave, dtype=np.float32)
        self.beats = np.array(self.beat)
        width = max(1, *(len(chord) for chord in chords))
        self.columns = np.zeros((len(chords), width), dtype=np.int64)
        self.weights = np.zeros((len(chords), width), dtype=np.float32)
        for chord, row in chords.items():
            self.columns[row, : len(chord)] = chord
            self.weights[row, : len(chord)] = 1.0 / max(1, len(chord))


@dataclass(frozen=True)
class _Way:
    """A player's way through one figure: his place in each frame, and the best score around it."""

    first: int
    """The frame in which the figure was entered."""
    places: NDArray[np.int32]
    before: float
    """The gap's score when it was entered."""
    after: float
    """The score with which it was left."""


class Follower:
    """Fed observations frame by frame; gives the passages that explain them best so far.

    Only what is still open is kept frame by frame: where all ways that could still win were in the gap,
    everything before is settled (survivors merge: Forney, "The Viterbi algorithm", Proceedings of the IEEE, 1973).
    """

    def __init__(
        self,
        expectations: Sequence[Expectation],
        beat_s: float,
        tuning_cents: float = 0.0,
        forgiving: bool = False,
        after: int = -1,
        only: Container[int] | None = None,
    ) -> None:
        """`forgiving`: strings may have died away, or one of several be wrong. `after`: the last figure that was
        played before what it is fed. `only`: the figures that may be in it, if not all."""
        self._map = _Map(expectations, beat_s)
        self._shift = round(tuning_cents / 10.0)
        strings = (self._map.weights > 0).sum(axis=1)
        self._alike = np.where(strings == 1, ALONE_SHARE, 1.0).astype(np.float32)
        size = len(self._map.beats)
        self._score = np.full(size, _NEVER, dtype=np.float32)
        self._gap = np.float32(0.0)
        self._gap_figure = after
        self._entries = [(i, first) for i, first in enumerate(self._map.first) if only is None or i in only]
        self._entry_cost = FORGIVING_ENTRY_COST if forgiving else ENTRY_COST
        self._forgiving = forgiving
        self._steps: list[NDArray[np.uint8]] = []
        self._left_from: list[int] = []
        self._gaps: list[float] = []
        self._still: NDArray[np.uint8] | None = None
        """The steps of a silent frame, if another one would change nothing."""
        self._first = 0
        """The first frame that is kept."""
        self._first_gap = 0.0
        """The gap's score before it."""
        self._settle_at = SETTLE_FRAMES
        """It is looked for what can be let go of when so many frames are kept."""
        self._settled: list[_Way] = []

    def feed(self, glance: Glance) -> None:
        """Take in the next frames, `HOP_S` apart."""
        chords = np.zeros((len(glance.loud), len(self._map.columns)), dtype=np.float32)
        heard = np.flatnonzero(glance.loud)
        if len(heard):
            chords[heard] = self._supported(glance.contrast[heard], glance.purity[heard])
        chords *= glance.loud[:, None]
        if self._forgiving:
            chords -= (FORGIVING_NEEDED * glance.loud + FORGIVEN_SILENCE * (1.0 - glance.loud))[:, None]
        else:
            chords -= NEEDED
        chords[:, 0] = -0.1 * glance.loud
        silent = (glance.loud == 0.0) & (glance.onset == 0.0)
        for frame, onset in enumerate(glance.onset):
            self._advance(chords[frame], float(onset), bool(silent[frame]))

    def _supported(self, contrast: NDArray[np.float32], purity: NDArray[np.float32]) -> NDArray[np.float32]:
        """How well each chord is supported, with the bar where it should be or elsewhere; 0 to 1."""
        chords = self._chords(contrast, purity, self._shift)
        for frets, share in ELSEWHERE.items():
            elsewhere = self._chords(contrast, purity, self._shift + frets * STEPS_A_SEMITONE)
            np.maximum(chords, share * self._alike * elsewhere, out=chords)
        return chords

    def _chords(self, contrast: NDArray[np.float32], purity: NDArray[np.float32], shift: int) -> NDArray[np.float32]:
        """How well each chord is supported when everything sounds `shift` steps of the grid higher; 0 to 1.

        Every pitch must stand out (linear salience cannot tell neighbouring semitones, its cube can), and together
        they must account for what sounds, or one string would do for a whole grip.
        """
        columns = np.clip(self._map.columns + shift, 0, contrast.shape[1] - 1)
        stands = np.zeros((len(contrast), len(columns)), dtype=np.float32)
        counted = np.zeros_like(stands)
        weakest = np.ones_like(stands)
        for column, weights in zip(columns.T, self._map.weights.T, strict=True):
            ratio = contrast[:, column]
            cube = ratio * ratio * ratio
            stands += cube * weights
            counted += ratio * (weights > 0)
            if self._forgiving:
                np.minimum(weakest, cube, out=weakest, where=weights > 0)
        if self._forgiving:
            strings = np.maximum((self._map.weights > 0).sum(axis=1), 1)
            without = (stands * strings - weakest) / np.maximum(strings - 1, 1)
            np.maximum(stands, np.float32(ONE_OFF_SHARE) * without * (strings > 1), out=stands)
        counted *= purity[:, None]
        least = LEAST_COUNTED if self._forgiving else 0.0
        return np.asarray(stands * np.clip((counted - NOTHING) / (EVERYTHING - NOTHING), least, 1.0))

    def _advance(self, chords: NDArray[np.float32], onset: float, silent: bool) -> None:
        if silent and self._still is not None:
            self._keep(self._still, -1)
            return
        positions = self._map
        emission = chords[positions.chord_of]
        emission[positions.picks] += PICK_BONUS * (onset - 0.1)
        emission[positions.dead] = _NEVER
        before = self._score
        best = before - STAY_COST
        steps = np.zeros(len(before), dtype=np.uint8)
        for back, cost, code in ((1, 0.0, _STEP), (2, SKIP_COST, _SKIP), (3, LEAP_COST, _LEAP)):
            reached = before[:-back] - np.float32(cost)
            better = reached > best[back:]
            np.copyto(best[back:], reached, where=better)
            steps[back:][better] = code
        leaving = before - positions.leave
        exit_at = int(np.argmax(leaving))
        for figure, first in self._entries:
            entered = self._gap - self._cost_of(figure)
            if entered > best[first]:
                best[first] = entered
                steps[first] = _ENTER
        left_from = -1
        if leaving[exit_at] > self._gap:
            self._gap = leaving[exit_at]
            self._gap_figure = positions.figure[exit_at]
            left_from = exit_at
        self._score = np.maximum(best + emission, _NEVER)
        unchanged = silent and left_from < 0 and np.array_equal(self._score, before)
        self._still = steps if unchanged else None
        self._keep(steps, left_from)

    def _keep(self, steps: NDArray[np.uint8], left_from: int) -> None:
        self._steps.append(steps)
        self._left_from.append(left_from)
        self._gaps.append(float(self._gap))
        if len(self._steps) >= self._settle_at:
            self._settle()
            self._settle_at = max(len(self._steps) + SETTLE_FRAMES, round(SETTLE_GROWTH * len(self._steps)))

    def _cost_of(self, figure: int) -> float:
        left_out = max(0, figure - self._gap_figure - 1)
        back = BACKWARD_COST if figure < self._gap_figure else AGAIN_COST if figure == self._gap_figure else 0.0
        return self._entry_cost + LEFT_OUT_COST * left_out + back

    @property
    def total(self) -> float:
        """How well the best explanation accounts for everything so far; comparable between tunings of one lesson."""
        return max(float(self._gap), float((self._score - self._map.leave).max()))

    @property
    def figure(self) -> int | None:
        """The figure that is being played, as it seems now; None in the gap."""
        at = int(np.argmax(self._score))
        return self._map.figure[at] if self._score[at] > self._gap else None

    @property
    def beat(self) -> float:
        """Where in that figure the player is."""
        return float(self._map.beats[int(np.argmax(self._score))])

    def passages_since(self, from_s: float) -> list[Passage]:
        """Those that began at a time or later, as it seems now; the one that is being played, up to now, is the last,
        and need not have come to its end."""
        at = int(np.argmax(self._score))
        place, value = (at, float(self._score[at])) if self._score[at] > self._gap else (-1, float(self._gap))
        settled = bisect_left(self._settled, from_s, key=lambda way: way.first * HOP_S)
        ways = (*self._settled[settled:], *self._traced(len(self._steps), place, value))
        return [self._passage(way) for way in ways if way.first * HOP_S >= from_s]

    def passages(self) -> list[Passage]:
        """The passages of the best explanation of everything so far, in order of time."""
        ending = self._score - self._map.leave
        at = int(np.argmax(ending))
        place = at if ending[at] > self._gap else -1
        ways = self._traced(len(self._steps), place, float(max(ending[at], self._gap)))
        return [self._passage(way) for way in (*self._settled, *ways)]

    def _settle(self) -> None:
        """Let go of the frames up to the last one after which all ways are in the gap."""
        places = np.append(-1, np.flatnonzero(self._score > _NEVER / 2))
        stop = len(self._steps)
        while stop and places[-1] >= 0:
            stop -= 1
            codes = self._steps[stop][places]
            back = np.where(codes == _ENTER, -1, places - codes)
            places = np.unique(np.where(places < 0, self._left_from[stop], back))
        if not stop:
            return
        self._settled += self._traced(stop, -1, self._gaps[stop - 1])
        self._first += stop
        self._first_gap = self._gaps[stop - 1]
        for kept in (self._steps, self._left_from, self._gaps):
            del kept[:stop]

    def _traced(self, stop: int, place: int, value: float) -> list[_Way]:
        """The ways that lead to a place, or to the gap (-1), which had a score after so many of the frames that are
        kept, in order of time; without those that are settled."""
        found: list[_Way] = []
        trail: list[int] = []
        for frame in range(stop - 1, -1, -1):
            if place < 0:
                place, value = self._left_from[frame], self._gaps[frame]
                continue
            trail.append(place)
            code = self._steps[frame][place]
            if code == _ENTER:
                before = self._gaps[frame - 1] if frame else self._first_gap
                found.append(_Way(self._first + frame, np.array(trail[::-1], dtype=np.int32), before, value))
                trail = []
                place = -1
            else:
                place -= int(code)
        return found[::-1]

    def _passage(self, way: _Way) -> Passage:
        times_s = (way.first + np.arange(len(way.places))).astype(np.float64) * HOP_S
        support = (way.after - way.before) / len(way.places) + NEEDED
        return Passage(self._map.figure[way.places[0]], times_s, self._map.beats[way.places], support)
