"""Where a figure lies, when the follower's way does not lead to its picks.

The way bends to what was played. Where that was wrong it may fit another step better than its own, and the whole figure
comes out a step early or late. Its picks tell: of the places where it may lie, it lies where most of them are seen.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from livecheck.hearing.listening import Glimpse
from livecheck.hearing.sound.salience import HOP_S
from livecheck.judging.places.fitting import Fitting
from livecheck.judging.places.passage import Passage
from livecheck.judging.sound import Sound
from livecheck.judging.timing import Line
from livecheck.judging.verdicts.judge import Judge

ENOUGH = 0.75
"""With so large a share of its picks seen where they should be, a figure is looked for nowhere else."""
SAME_S = 0.1
"""Places so near each other are one: picks are looked for around where they should be. Picks that put the start of
their figure so near each other agree about it."""


@dataclass(frozen=True, eq=False)
class Place:
    """A passage, its line, and which of its picks are seen there; None where nothing can be seen before it is heard."""

    passage: Passage
    line: Line
    seen: list[Glimpse] | None

    @property
    def count(self) -> int:
        return len(self.seen or ())

    @property
    def worth(self) -> tuple[int, int]:
        """By which places are compared: one more pick that is seen out of place may be another step's."""
        return self.agreeing, self.count

    @property
    def agreeing(self) -> int:
        """How many of the picks that are seen lie as far from each other as the line has them: what is seen of a figure
        that lies a step off is early or late, each by as much as chance has it."""
        off_s = np.array([one.time_s - self.line.time_s(one.checkpoint.beat) for one in self.seen or ()])
        return max((int(np.count_nonzero(np.abs(off_s - one) <= SAME_S / 2)) for one in off_s), default=0)


def _with(
    passages: Sequence[Passage], lines: Sequence[Line], index: int, passage: Passage, line: Line
) -> tuple[list[Passage], list[Line]]:
    """Some passages and their lines, one of them another."""
    return [*passages[:index], passage, *passages[index + 1 :]], [*lines[:index], line, *lines[index + 1 :]]


class Placing:
    """Looks for the picks of passages where their lines lay them, and elsewhere."""

    def __init__(self, fitting: Fitting, sound: Sound, tuning: float, judge: Judge) -> None:
        self._judge = judge
        self._fitting = fitting
        self._sound = sound
        self._tuning = tuning

    def seen(self, passages: Sequence[Passage], lines: Sequence[Line], index: int) -> Place:
        """One of some passages where its line lays it."""
        score = self._fitting.score(passages[index], lines[index], self._tuning)
        return Place(passages[index], lines[index], self._sound.glimpse(score, *self._borders(passages, lines, index)))

    def _borders(self, passages: Sequence[Passage], lines: Sequence[Line], index: int) -> list[float]:
        """From when to when one of some passages may be looked for: only its neighbours bound it."""
        first = max(0, index - 1)
        borders = self._fitting.borders(passages[first : index + 2], lines[first : index + 2])
        return borders[index - first : index - first + 2]

    def is_clear(self, place: Place) -> bool:
        """Whether enough of a passage's picks are seen where it is and agree about that, or nothing can be seen
        anywhere. Strings that are faded in cannot be."""
        struck = sum(not note.checkpoints[0].swell for note in self._fitting.expectations[place.passage.figure].notes)
        return place.seen is None or place.agreeing >= ENOUGH * struck

    def _may_be_another(self, place: Place) -> bool:
        """Whether the one pick of a passage, which has none to agree with, is seen elsewhere than where its way begins:
        what sounds like it may be struck while it rings."""
        beats = {note.start_beat for note in self._fitting.expectations[place.passage.figure].notes}
        begun_s = float(place.passage.times_s[0])
        return len(beats) == 1 and all(abs(one.time_s - begun_s) > SAME_S for one in place.seen or ())

    def all_placed(self, places: Sequence[Place]) -> list[Place]:
        """Some passages in order, those of which little is seen where more of their picks are; one of two neighbours
        is left out where the other one, with the time of both, shows more picks than both."""
        found = list(places)
        for place in places:
            if place in found and not self.is_clear(place):
                found = self._placed_or_joined(found, found.index(place))
        return found

    def _placed_or_joined(self, places: list[Place], index: int) -> list[Place]:
        """The same passages, one of them placed anew."""
        alone = self._placed_among(places, index)
        for other in (index + 1, index - 1):
            if 0 <= other < len(places) and not self.is_clear(places[other]):
                rest = [*places[:other], *places[other + 1 :]]
                at = rest.index(places[index])
                joined = self._placed_among(rest, at)
                if joined.count > alone.count + places[other].count:
                    return [*rest[:at], joined, *rest[at + 1 :]]
        return [*places[:index], alone, *places[index + 1 :]]

    def _placed_among(self, places: Sequence[Place], index: int) -> Place:
        return self.placed([place.passage for place in places], [place.line for place in places], index)

    def placed(self, passages: Sequence[Passage], lines: Sequence[Line], index: int) -> Place:
        """One of some passages where most of its picks are seen; where as many are in several places, what is heard
        there decides, and it stays as it was, if it can."""
        offers = self._offers(passages, lines, index)
        if len(offers) == 1:
            return offers[0]
        return max(offers, key=lambda place: self._right(passages, lines, index, place))

    def _right(self, passages: Sequence[Passage], lines: Sequence[Line], index: int, place: Place) -> int:
        """How many of the checkpoints of one of some passages are right in a place."""
        score = self._fitting.score(place.passage, place.line, self._tuning)
        borders = self._borders(*_with(passages, lines, index, place.passage, place.line), index)
        return self._judge.judge_briefly(score, self._sound.hear(score, *borders)).right

    def _offers(self, passages: Sequence[Passage], lines: Sequence[Line], index: int) -> list[Place]:
        """The places of one of some passages where as many of its picks are seen as anywhere, and agree; as it was
        first, if it is among them, and alone, if nothing is seen anywhere."""
        seen = self.seen(passages, lines, index)
        if seen.seen is None or (self.is_clear(seen) and not self._may_be_another(seen)):
            return [seen]
        places = [seen]
        for start_s in self._starts_s(passages, lines, index, seen.seen):
            offer = Line(start_s, lines[index].beat_s)
            others = _with(passages, lines, index, self._straight(passages[index], offer), offer)
            if self._fitting.fits(*others, index):
                places.append(self.seen(*others, index))
        most = max(place.worth for place in places)
        return [place for place in places if place.worth == most] if most > (0, 0) else [seen]

    def _starts_s(
        self, passages: Sequence[Passage], lines: Sequence[Line], index: int, seen: Sequence[Glimpse]
    ) -> list[float]:
        """Where a passage may begin instead: where its way does, right after or before its neighbours, or where a pick
        that was seen has it, as itself, the next one or the one before."""
        tried = [lines[index].start_s]
        for start_s in self._offers_s(passages, lines, index, seen):
            if all(abs(start_s - other_s) > SAME_S for other_s in tried):
                tried.append(start_s)
        return tried[1:]

    def _offers_s(
        self, passages: Sequence[Passage], lines: Sequence[Line], index: int, seen: Sequence[Glimpse]
    ) -> Iterator[float]:
        line, expectation = lines[index], self._fitting.expectations[passages[index].figure]
        yield float(passages[index].times_s[0])
        if index > 0:
            before = self._fitting.expectations[passages[index - 1].figure].figure
            yield lines[index - 1].time_s(1.0 + float(before.length))
        if index + 1 < len(passages):
            yield lines[index + 1].start_s - float(expectation.figure.length) * line.beat_s
        picks = sorted({note.start_beat for note in expectation.notes})
        times_s = {glimpse.checkpoint.beat: glimpse.time_s for glimpse in seen} or {b: line.time_s(b) for b in picks}
        for beat, time_s in times_s.items():
            yield time_s - (beat - 1.0) * line.beat_s
        for earlier, later in pairwise(picks):
            for beat, other in ((earlier, later), (later, earlier)):
                if beat in times_s:
                    yield times_s[beat] - (other - 1.0) * line.beat_s

    def _straight(self, passage: Passage, line: Line) -> Passage:
        """A passage whose way is the line itself, frame by frame: a part of it may be taken later."""
        length = float(self._fitting.expectations[passage.figure].figure.length)
        beats = np.linspace(1.0, 1.0 + length, 1 + math.ceil(length * line.beat_s / HOP_S))
        return replace(passage, times_s=line.start_s + line.beat_s * (beats - 1.0), beats=beats)
