"""Which figure is being played, and where in it the player is.

One dynamic programme over the positions of all figures, with a gap state before, between and after them. In each
frame the player stays, goes on, or skips ahead, within 0 to 3 times the lesson's tempo, or leaves for the gap, or
enters a figure.

The path answers which event is which; it bends to whatever was played, so no time is ever judged by it.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Container, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.shifted import shifted
from livecheck.hearing.sound.ear import Glance
from livecheck.hearing.sound.salience import GRID_MIDI, HOP_S, STEPS_A_SEMITONE
from livecheck.judging.places.passage import Passage
from livecheck.judging.places.positions import Positions
from livecheck.lesson.expectation import Expectation

NEEDED = 0.28
"""Support per frame below which a stretch is better explained by the gap."""
STAY_COST, SKIP_COST, LEAP_COST = 0.08, 0.03, 0.12
ENTRY_COST = 4.0
BACKWARD_COST, LEFT_OUT_COST, AGAIN_COST = 15.0, 2.0, 1.0
"""Figures come in the lesson's order unless the sound says so clearly; each one left out costs a little."""
PICK_BONUS = 1.5
NOTHING, EVERYTHING = np.float32(0.05), np.float32(0.18)
"""Share of the sound that a chord accounts for: with the first it explains nothing, with the second all that is
ever explained."""
ELSEWHERE = {-2: 0.7, -1: 0.75, 1: 0.75, 2: 0.7}
"""The same strings with the bar some frets off still tell where the player is, for less."""
ALONE_SHARE = 0.7
"""And for less still where one string sounds alone: it has no neighbours to be known by."""
ONE_OFF_SHARE = 0.8
"""What a chord is worth, to a forgiving follower, in which one string is wrong or has died away."""
LEAST_COUNTED = np.float32(0.5)
"""A sound of which no pitch accounts for much still counts so much to a forgiving follower."""
FORGIVING_NEEDED, FORGIVEN_SILENCE, FORGIVING_ENTRY_COST = 0.2, 0.02, 2.0
"""Support below which the gap explains more, and what a silent frame costs, where strings may have died away."""
SETTLE_FRAMES, SETTLE_GROWTH = 1024, 1.5
"""It is looked for what can be let go of after so many more frames, and only when so many times more are kept than were
left: looking costs time for each of them."""
FRAMES_AT_ONCE = 32
"""Frames whose steps are worked out together."""
UNITE_FRAMES = 8
"""How often ways that have met are counted as one, while looking: it takes longer than going back a frame."""
_STAY, _STEP, _SKIP, _LEAP, _ENTER = range(5)
_COSTS = np.array([[LEAP_COST], [SKIP_COST], [0.0], [STAY_COST]], dtype=np.float32)
"""Of the steps from `_LEAP` down to `_STAY`."""
_NEVER = np.float32(-1e9)


@dataclass(frozen=True, slots=True)
class _Way:
    """A player's way through one figure, and the best score around it. A long take has thousands of them."""

    first: int
    """The frame in which the figure was entered."""
    place: int
    """Where that was."""
    steps: bytes
    """How many places he went on in each frame after that."""
    before: float
    """The gap's score when it was entered."""
    after: float
    """The score with which it was left."""


def _order_cost(last: int, figure: int) -> float:
    """What it costs to play a figure after another one (-1: as the first)."""
    left_out = max(0, figure - last - 1)
    back = BACKWARD_COST if figure < last else AGAIN_COST if figure == last else 0.0
    return LEFT_OUT_COST * left_out + back


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
        self._map = Positions(expectations, beat_s)
        strings = (self._map.weights > 0).sum(axis=1)
        alike = np.where(strings == 1, ALONE_SHARE, 1.0).astype(np.float32)
        self._shares = np.stack([np.ones_like(alike), *(share * alike for share in ELSEWHERE.values())])
        """What a chord is worth with the bar where it should be, then elsewhere; shape (places, chords)."""
        frets = np.array([0, *ELSEWHERE]) * STEPS_A_SEMITONE + round(tuning_cents / 10.0)
        columns = np.concatenate([self._map.columns + shift for shift in frets])
        self._columns = np.clip(columns, 0, len(GRID_MIDI) - 1)
        """The pitches of all chords at all these places; shape (places * chords, strings)."""
        self._weights = np.tile(self._map.weights, (len(frets), 1))
        self._present = (self._weights > 0).astype(np.float32)
        size = len(self._map.beats)
        self._score = np.full(size, _NEVER, dtype=np.float32)
        self._gap = np.float32(0.0)
        self._gap_figure = after
        entry_cost = FORGIVING_ENTRY_COST if forgiving else ENTRY_COST
        figures = range(len(expectations))
        self._entry_costs = np.array(
            [[entry_cost + _order_cost(last, figure) for figure in figures] for last in range(-1, len(expectations))],
            dtype=np.float32,
        )
        self._entry_costs[:, [only is not None and figure not in only for figure in figures]] = np.inf
        """[1 + the figure played last, figure]."""
        self._forgiving = forgiving
        self._steps: list[NDArray[np.uint8]] = []
        self._left_from: list[int] = []
        self._gaps: list[float] = []
        self._still: NDArray[np.uint8] | None = None
        """The steps of the last frame, if another one like it would change nothing."""
        self._last = np.full(1 + len(self._map.columns), np.nan, dtype=np.float32)
        """How much of the last frame was new, and what it said for each chord; at first unlike any."""
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
            chords[heard] = self._chords(glance.contrast[heard], glance.purity[heard])
        chords *= glance.loud[:, None]
        if self._forgiving:
            chords -= (FORGIVING_NEEDED * glance.loud + FORGIVEN_SILENCE * (1.0 - glance.loud))[:, None]
        else:
            chords -= NEEDED
        chords[:, 0] = -0.1 * glance.loud
        said = np.empty((len(chords) + 1, len(self._last)), dtype=np.float32)
        said[0], said[1:, 0], said[1:, 1:] = self._last, glance.onset, chords
        alike = (said[1:] == said[:-1]).all(axis=1)
        self._last = said[-1].copy()
        for first in range(0, len(alike), FRAMES_AT_ONCE):
            part = slice(first, first + FRAMES_AT_ONCE)
            self._advance(chords[part], glance.onset[part], alike[part])

    def _chords(self, contrast: NDArray[np.float32], purity: NDArray[np.float32]) -> NDArray[np.float32]:
        """How well each chord is supported, with the bar where it should be or elsewhere; 0 to 1.

        Every pitch must stand out (linear salience cannot tell neighbouring semitones, its cube can), and together
        they must account for what sounds, or one string would do for a whole grip.
        """
        stands = np.zeros((len(contrast), len(self._columns)), dtype=np.float32)
        counted = np.zeros_like(stands)
        weakest = np.ones_like(stands)
        for column, weights, present in zip(self._columns.T, self._weights.T, self._present.T, strict=True):
            ratio = contrast.take(column, axis=1)
            cube = ratio * ratio
            cube *= ratio
            if self._forgiving:
                np.minimum(weakest, cube, out=weakest, where=weights > 0)
            cube *= weights
            stands += cube
            ratio *= present
            counted += ratio
        if self._forgiving:
            strings = np.maximum((self._weights > 0).sum(axis=1), 1)
            without = (stands * strings - weakest) / np.maximum(strings - 1, 1)
            np.maximum(stands, np.float32(ONE_OFF_SHARE) * without * (strings > 1), out=stands)
        counted *= purity[:, None]
        least = LEAST_COUNTED if self._forgiving else np.float32(0.0)
        explained = (counted - NOTHING) / (EVERYTHING - NOTHING)
        stands *= np.minimum(np.maximum(explained, least), np.float32(1.0))
        return np.asarray((self._shares * stands.reshape(len(stands), *self._shares.shape)).max(axis=1))

    def _advance(self, chords: NDArray[np.float32], onset: NDArray[np.float32], alike: NDArray[np.bool_]) -> None:
        """Go on by some frames, given the support of each chord, shape (frames, chords), how much is new, and whether
        both are as in the frame before."""
        positions = self._map
        emission = chords.take(positions.chord_of, axis=1)
        emission[:, positions.picks] += (PICK_BONUS * (onset.astype(np.float64) - 0.1)).astype(np.float32)[:, None]
        emission[:, positions.dead] = _NEVER
        scores = np.full((len(alike) + 1, len(positions.beats) + _LEAP), _NEVER, dtype=np.float32)
        scores[0, _LEAP:] = self._score
        reaching = shifted(scores, len(_COSTS))
        entered = np.empty((len(alike), len(positions.first)), dtype=np.float32)
        reached = np.empty((len(_COSTS), len(positions.beats)), dtype=np.float32)
        entering = self._gap - self._entry_costs[self._gap_figure + 1]
        before, best = self._score, np.empty_like(self._score)
        known = [] if self._still is None else [self._still]
        worked, still = 0, bool(known)
        rows: list[int] = []
        for frame in range(len(alike)):
            if not (alike[frame] and still):
                np.subtract(reaching[worked], _COSTS, out=reached)
                np.maximum.reduce(reached, axis=0, out=best)
                leaving = before - positions.leave
                exit_at = int(leaving.argmax())
                entered[worked] = entering
                best[positions.first] = np.maximum(best[positions.first], entering)
                left = bool(leaving[exit_at] > self._gap)
                if left:
                    self._gap = leaving[exit_at]
                    self._gap_figure = positions.figure[exit_at]
                    entering = self._gap - self._entry_costs[self._gap_figure + 1]
                self._left_from.append(exit_at if left else -1)
                best += emission[frame]
                after = np.maximum(best, _NEVER, out=scores[worked + 1, _LEAP:])
                still = bool(alike[frame]) and not left and np.array_equal(after, before)
                before = after
                worked += 1
            else:
                self._left_from.append(-1)
            rows.append(len(known) + worked - 1)
            self._gaps.append(float(self._gap))
        self._score = before.copy()
        steps = [*known, *self._chosen(scores[:worked], entered[:worked])]
        self._steps += [steps[row] for row in rows]
        self._still = self._steps[-1] if still else None
        if len(self._steps) >= self._settle_at:
            self._settle()
            self._settle_at = max(len(self._steps) + SETTLE_FRAMES, round(SETTLE_GROWTH * len(self._steps)))

    def _chosen(self, scores: NDArray[np.float32], entered: NDArray[np.float32]) -> NDArray[np.uint8]:
        """The best step to each position, given the scores before and those of entering each figure; shape
        (frames, positions)."""
        first = self._map.first
        best = scores[:, _LEAP:] - _COSTS[_LEAP]
        reached = np.empty_like(best)
        better = np.empty(best.shape, dtype=bool)
        steps = np.full(best.shape, _STAY, dtype=np.uint8)
        for step in (_STEP, _SKIP, _LEAP):
            np.subtract(scores[:, _LEAP - step : -step], _COSTS[_LEAP - step], out=reached)
            np.greater(reached, best, out=better)
            np.maximum(best, reached, out=best)
            np.maximum(steps, better * np.uint8(step), out=steps)
        steps[:, first] = np.where(entered > best[:, first], np.uint8(_ENTER), steps[:, first])
        return steps

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
        since = max(0, int(from_s / HOP_S) - self._first)
        ways = (*self._settled[settled:], *self._traced(len(self._steps), place, value, since))
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
        taken = np.empty(len(self._score) + 1, dtype=bool)
        """Whether a way is at a place; the last one is the gap."""
        stop = len(self._steps)
        while stop and (places >= 0).any():
            stop -= 1
            codes = self._steps[stop][places]
            back = np.where(codes == _ENTER, -1, places - codes)
            places = np.where(places < 0, self._left_from[stop], back)
            if stop % UNITE_FRAMES == 0:
                taken[:] = False
                taken[places] = True
                places = np.flatnonzero(taken)
                places[places == len(self._score)] = -1
        if not stop:
            return
        self._settled += self._traced(stop, -1, self._gaps[stop - 1])
        self._first += stop
        self._first_gap = self._gaps[stop - 1]
        for kept in (self._steps, self._left_from, self._gaps):
            del kept[:stop]

    def _traced(self, stop: int, place: int, value: float, since: int = 0) -> list[_Way]:
        """The ways that lead to a place, or to the gap (-1), which had a score after so many of the frames that are
        kept, in order of time; without those that are settled, or began before the frame `since` of those kept."""
        found: list[_Way] = []
        steps: list[int] = []
        for frame in range(stop - 1, since - 1, -1):
            if place < 0:
                place, value = self._left_from[frame], self._gaps[frame]
                continue
            code = int(self._steps[frame][place])
            if code == _ENTER:
                before = self._gaps[frame - 1] if frame else self._first_gap
                found.append(_Way(self._first + frame, place, bytes(reversed(steps)), before, value))
                steps = []
                place = -1
            else:
                steps.append(code)
                place -= code
        return found[::-1]

    def _passage(self, way: _Way) -> Passage:
        places = way.place + np.frombuffer(b"\0" + way.steps, dtype=np.uint8).cumsum(dtype=np.int64)
        times_s = (way.first + np.arange(len(places))).astype(np.float64) * HOP_S
        support = (way.after - way.before) / len(places) + NEEDED
        return Passage(self._map.figure[way.place], times_s, self._map.beats[places], support)
