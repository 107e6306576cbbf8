"""The verdict on a take: which figures were played and when, at which tempo and tuning, and what was wrong with each.

The follower says which figure was played where; each is then listened to closely where the lines through all of them
say, and again if what was heard moves the lines. Stretches that nothing explains get a second, more forgiving hearing.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from livecheck.errors import NothingFound
from livecheck.hearing.heard import HeardNote
from livecheck.hearing.median import median
from livecheck.hearing.score import TimedScore
from livecheck.hearing.sound.ear import Glance
from livecheck.hearing.sound.salience import HOP_S
from livecheck.judging.brief import Brief
from livecheck.judging.meanwhile.remark import Remark
from livecheck.judging.meanwhile.so_far import SoFar
from livecheck.judging.places.fitting import LEAST_SUPPORT, NEAR_BEATS, Fitting
from livecheck.judging.places.follow import Follower
from livecheck.judging.places.look import Look
from livecheck.judging.places.passage import Passage
from livecheck.judging.places.placing import Place, Placing
from livecheck.judging.places.rival import elsewhere, rivals, unexplained
from livecheck.judging.sound import Sound
from livecheck.judging.spread import ONE_BY_ONE, Spread
from livecheck.judging.timing import Line, line_at
from livecheck.judging.verdict import FigureVerdict, TakeVerdict
from livecheck.judging.verdicts.broken import broken_off
from livecheck.judging.verdicts.judge import Judge, Judgement
from livecheck.judging.verdicts.wet import is_wet, without_repeats

FAR_TUNINGS_CENTS = (-45.0, 45.0)
"""Tunings tried where figures are missing: the follower itself hears some 40 cents to each side."""
LEAST_STRETCH_S = 0.6
"""Less sound between two figures hides no third."""
GUESSES = 4
"""How often what nothing explains is gone over, each time without what was no figure before."""
LOOKS = 3
FREE_BEATS = 0.5
"""What a follower's way takes in so far before and after a figure's line may be another figure."""


@dataclass(frozen=True)
class _Reading:
    """What a take was taken for."""

    passages: Sequence[Passage]
    looks: Sequence[Look]
    lines: Sequence[Line]
    tuning: float

    @property
    def beat_s(self) -> float:
        """How long a beat is in the take; only where something was found."""
        return median([line.beat_s for line in self.lines])


def _is_of(one: Passage, other: Passage) -> bool:
    """Whether two passages are the same figure at the same time."""
    shared_s = min(one.times_s[-1], other.times_s[-1]) - max(one.times_s[0], other.times_s[0])
    return one.figure == other.figure and bool(shared_s > 0.5 * (other.times_s[-1] - other.times_s[0]))


def _heard(
    sound: Sound, judge: Judge, score: TimedScore, from_s: float, until_s: float
) -> tuple[list[HeardNote], Judgement]:
    notes = sound.hear(score, from_s, until_s)
    return notes, judge.judge_briefly(score, notes)


def _nothing_found(take: str, brief: Brief) -> NothingFound:
    return NothingFound(f'{take}: no figure of this lesson was found in it; wanted a take of "{brief.lesson.title}"')


class TakeJudge:
    """Judges a take: fed glances while it is played, asked for the verdict at its end."""

    def __init__(self, brief: Brief, spread: Spread = ONE_BY_ONE) -> None:
        self.brief = brief
        self._spread = spread
        self._fitting = Fitting(brief)
        self._follower = Follower(self._fitting.expectations, brief.lesson.beat_s, self._fitting.reference_cents)
        self._so_far = SoFar(self._fitting, self._follower)
        self._loud = array("f")
        self._heard: dict[tuple[str, int], list[HeardNote]] = {}
        """Figure and attempt -> the notes that it was judged by."""

    def follow(self, glance: Glance) -> None:
        """Take in the next frames."""
        self._follower.feed(glance)
        self._loud.frombytes(glance.loud.astype(np.float32).tobytes())

    def certain(self, sound: Sound, now_s: float) -> list[Remark]:
        """What has become certain of the figure that is being played since this was asked last; it changes nothing in
        the verdict at the end."""
        return self._so_far.certain(sound, now_s)

    def ended(self, sound: Sound, now_s: float) -> list[FigureVerdict]:
        """The figures that have ended since this was asked last, as they look so far; it changes nothing in the verdict
        at the end. `sound` is what was heard up to now."""
        return self._so_far.ended(sound, now_s)

    def verdict(self, take: str, sound: Sound) -> TakeVerdict:
        """The verdict on all that was fed. NothingFound if no figure of the lesson is in it."""
        judge = Judge(self.brief.lesson.copedent, self.brief.tolerances, sound.blur_s)
        passages, tuning = self._passages(sound)
        reading = self._read(passages, tuning, judge, sound)
        rejected: list[Passage] = []
        for _ in range(GUESSES):
            guessed = self._overlooked(reading, rejected, sound)
            if not guessed:
                break
            passages = sorted([*reading.passages, *guessed], key=lambda p: p.times_s[0])
            reading = self._read(passages, reading.tuning, judge, sound, reading)
            rejected += [guess for guess in guessed if not any(_is_of(guess, p) for p in reading.passages)]
        while reading.passages:
            reading = self._least_mistaken(reading, judge, sound)
            told = self._told(reading, judge, sound)
            believed = self._believed(reading, told)
            if len(believed) == len(reading.passages):
                return self._take(take, sound.source, reading, told)
            # What is no figure when all is told has moved the tempo, the tuning and the borders of the others.
            reading = self._read(believed, reading.tuning, judge, sound, reading)
        raise _nothing_found(take, self.brief)

    def _told(self, reading: _Reading, judge: Judge, sound: Sound) -> list[Judgement]:
        """All that there is to say of each passage, echo and reverb allowed for."""
        notes = [note for look in reading.looks for note in look.notes]
        wet = sound.echoes or is_wet(notes)
        laid = list(zip(reading.looks, reading.lines, strict=True))
        told = self._spread.each(lambda one: judge.judge(one[0].at(one[1], reading.tuning), one[0].notes, wet), laid)
        return without_repeats(told, notes) if wet else told

    def _believed(self, reading: _Reading, told: Sequence[Judgement]) -> list[Passage]:
        """The passages that are certain, and those doubtful ones which what is told of them bears out."""
        found = set(self._fitting.found(reading.passages, told))
        return [passage for i, passage in enumerate(reading.passages) if not passage.doubtful or i in found]

    def heard(self, figure: FigureVerdict) -> list[HeardNote]:
        """The notes that a figure of the verdict was judged by."""
        return self._heard.get((figure.figure.name, figure.attempt), [])

    def _passages(self, sound: Sound) -> tuple[list[Passage], float]:
        """The passages that explain the take best, at the tuning, in cents, at which they do."""
        best, tuning = self._follower, self._fitting.reference_cents
        passages = best.passages()
        figures = len(self._fitting.expectations)
        if self.brief.lesson.reference_hz is None and len({p.figure for p in passages}) < figures:
            beat_s = self.brief.lesson.beat_s
            others = [Follower(self._fitting.expectations, beat_s, cents) for cents in FAR_TUNINGS_CENTS]
            for glance in sound.glances(0.0, math.inf):
                for other in others:
                    other.feed(glance)
            for other, cents in zip(others, FAR_TUNINGS_CENTS, strict=True):
                if other.total > best.total:
                    best, tuning = other, cents
            passages = best.passages()
        return [p for p in passages if p.support >= LEAST_SUPPORT], tuning

    def _overlooked(self, reading: _Reading, rejected: Sequence[Passage], sound: Sound) -> list[Passage]:
        """What a more forgiving follower makes of the stretches between the passages found, other than what was
        rejected there."""
        passages = list(reading.passages)
        guessed: list[Passage] = []
        spans = (self._span(p, line) for p, line in zip(passages, reading.lines, strict=True))
        borders = [0.0, *(border_s for span in spans for border_s in span), math.inf]
        beat_s = reading.beat_s if passages else self.brief.lesson.beat_s
        before = [-1, *(passage.figure for passage in passages)]
        after = [*(passage.figure for passage in passages), len(self.brief.figures) - 1]
        sounding = np.concatenate([[0.0], self._loud]).cumsum() * HOP_S
        for from_s, until_s, last_figure, next_figure in zip(borders[::2], borders[1::2], before, after, strict=True):
            first, last = (int(min(time_s / HOP_S, len(sounding) - 1)) for time_s in (from_s, until_s))
            if sounding[last] - sounding[first] < LEAST_STRETCH_S:
                continue
            tried = {p.figure for p in rejected if from_s - HOP_S <= p.times_s[0] <= until_s}
            only = self._between(last_figure, next_figure) - tried
            follower = Follower(self._fitting.expectations, beat_s, reading.tuning, True, last_figure, only)
            for glance in sound.glances(first * HOP_S, until_s) if only else ():
                follower.feed(glance)
            guessed += [replace(p, times_s=p.times_s + first * HOP_S, doubtful=True) for p in follower.passages()]
        return guessed

    def _trimmed(self, passage: Passage, line: Line) -> Passage:
        """A passage as far as its line agrees with the follower's way, which may have taken in another figure."""
        figure = self._fitting.expectations[passage.figure].figure
        first_s, last_s = line.time_s(1.0 - FREE_BEATS), line.time_s(1.0 + float(figure.length) + FREE_BEATS)
        inside = (passage.times_s >= first_s) & (passage.times_s <= last_s)
        if inside.all() or not inside.any():
            return passage
        return replace(passage, times_s=passage.times_s[inside], beats=passage.beats[inside])

    def _span(self, passage: Passage, line: Line) -> tuple[float, float]:
        """From when to when a passage accounts for what sounds: all of its way, and all that it asks."""
        beats = self._fitting.expectations[passage.figure].beats
        first_s, last_s = line.time_s(beats[0]), line.time_s(beats[-1])
        return min(float(passage.times_s[0]), first_s), max(float(passage.times_s[-1]), last_s)

    def _between(self, last: int, following: int) -> set[int]:
        """The figures that may lie between two others (-1: none before): who goes back may have gone on before that."""
        figures = range(len(self.brief.figures))
        if last < following:
            return set(figures[max(last, 0) : following + 1])
        return set(figures[last:]) | set(figures[: following + 1])

    def _read(
        self,
        passages: Sequence[Passage],
        tuning: float,
        judge: Judge,
        sound: Sound,
        known: _Reading | None = None,
    ) -> _Reading:
        """Lines, tuning and notes of the passages that hold their figures, looked at until they no longer move.
        `known`: what is certain already; the others must fit in."""
        passages = list(passages)
        before: list[Look | None]
        if known is not None and known.passages:
            looked = {id(one): look for one, look in zip(known.passages, known.looks, strict=True)}
            passages, lines = self._fitted_in(passages, known, judge, sound)
            before = [looked.get(id(passage)) for passage in passages]
        else:
            lines = self._fitting.lines([self._fitting.path_events(p) for p in passages]) if passages else []
            passages, lines, tuning = self._first_sight(passages, lines, tuning, judge, sound)
            before = [None] * len(passages)
        looks: list[Look] = []
        for _ in range(LOOKS if passages else 0):
            looks = self._look(passages, lines, tuning, judge, sound, looks or before)
            judgements = [look.judgement for look in looks]
            kept = self._fitting.found(passages, judgements)
            passages, looks = [passages[i] for i in kept], [looks[i] for i in kept]
            if not kept:
                break
            lines = self._fitting.lines([judgements[i].events() for i in kept])
            tuning = self._tuning([judgements[i] for i in kept])
            settled = not any(look.is_stale(line, tuning) for look, line in zip(looks, lines, strict=True))
            if settled and len(kept) == len(judgements):
                break
        lines = lines if passages else []
        trimmed = [self._trimmed(passage, line) for passage, line in zip(passages, lines, strict=True)]
        return _Reading(trimmed, looks, lines, tuning)

    def _least_mistaken(self, reading: _Reading, judge: Judge, sound: Sound) -> _Reading:
        """The same reading, each figure laid where less is left unexplained than on its own line: a late pick and a
        string struck again may agree as well as all the rest does, and of equal notes the first may be wrong. To a
        click it begins on a beat there too."""
        looks, lines = list(reading.looks), list(reading.lines)
        to_click = self.brief.timing == "click"
        for index, passage in enumerate(reading.passages):
            expectation = self._fitting.expectations[passage.figure]
            for rival in rivals(expectation, lines[index], looks[index].judgement, to_click):
                laid = [*lines[:index], rival, *lines[index + 1 :]]
                if not self._fitting.fits(reading.passages, laid, index):
                    continue
                look, line = looks[index], lines[index]
                other = self._looked_elsewhere(look, replace(reading, lines=laid), index, judge, sound)
                moved = rival if to_click else elsewhere(other.judgement.events(), line, rival)
                if moved is None:
                    continue  # it lies where it lay, and was heard better from there
                from_s = min(one.time_s(expectation.beats[0] - NEAR_BEATS) for one in (line, moved))
                until_s = max(one.time_s(expectation.beats[-1] + NEAR_BEATS) for one in (line, moved))
                here = judge.judge(look.at(line, reading.tuning), look.notes)
                there = judge.judge(other.at(moved, reading.tuning), other.notes)
                # What was struck is what was heard from either place: neither looks for all that the other has.
                played = [*look.notes, *other.notes]
                if unexplained(there, played, from_s, until_s) < unexplained(here, played, from_s, until_s):
                    looks[index], lines[index] = other, moved
                    for at in {index - 1, index + 1} & set(range(len(looks))):
                        looks[at] = looks[at].left_by(other, judge)
        return replace(reading, looks=looks, lines=lines)

    def _looked_elsewhere(self, look: Look, reading: _Reading, index: int, judge: Judge, sound: Sound) -> Look:
        """What is heard of one of the passages on another line than it was looked for on, of which its neighbours may
        have taken a pick."""
        score = self._fitting.score(reading.passages[index], reading.lines[index], reading.tuning)
        borders = self._fitting.borders(reading.passages, reading.lines)
        from_s, until_s = min(look.from_s, borders[index]), max(look.until_s, borders[index + 1])
        return Look(score, score, *_heard(sound, judge, score, from_s, until_s), from_s, until_s)

    def _fitted_in(
        self, passages: Sequence[Passage], known: _Reading, judge: Judge, sound: Sound
    ) -> tuple[list[Passage], list[Line]]:
        """Some passages with their lines: those that are known where they are, the others at the tempo of the known
        ones, without those that would begin before a known one ends: they would take its picks for theirs."""
        placing = Placing(self._fitting, sound, known.tuning, judge)
        known_lines = {id(passage): line for passage, line in zip(known.passages, known.lines, strict=True)}
        placed = list(passages)
        lines = [known_lines.get(id(p)) or line_at(self._fitting.path_events(p), known.beat_s) for p in passages]
        for index, passage in enumerate(passages):
            if id(passage) not in known_lines:
                place = placing.placed(placed, lines, index)
                placed[index], lines[index] = place.passage, place.line
        kept = self._fitting.apart(placed, lines, [id(passage) in known_lines for passage in placed])
        return [placed[i] for i in kept], [lines[i] for i in kept]

    def _first_sight(
        self, passages: Sequence[Passage], lines: list[Line], tuning: float, judge: Judge, sound: Sound
    ) -> tuple[list[Passage], list[Line], float]:
        """Passages, lines and tuning from the picks alone, so that the first full look is seldom in the wrong place.

        First the tempo, from what is seen where the player's way leads; then, by that, passages of which little was
        seen are looked for elsewhere.
        """
        placing = Placing(self._fitting, sound, tuning, judge)
        places = [placing.seen(passages, lines, index) for index in range(len(passages))]
        if not places or any(place.seen is None for place in places):
            return list(passages), lines, tuning
        if not all(placing.is_clear(place) for place in places):
            places = self._at_another_tempo(places, placing)
        lines = self._lines(places)
        placing = Placing(self._fitting, sound, self._sighted_tuning(places), judge)
        places = placing.all_placed([replace(one, line=line) for one, line in zip(places, lines, strict=True)])
        return [place.passage for place in places], self._lines(places), self._sighted_tuning(places)

    def _at_another_tempo(self, places: list[Place], placing: Placing) -> list[Place]:
        """The same places, or those at the tempo at which each passage would reach to the next, where more picks
        agree: on strings that fade fast the player's way hurries through the figures; only their starts are sure."""
        passages = [place.passage for place in places]
        beat_s = self._fitting.beat_between(passages)
        if beat_s is None:
            return places
        lines = [Line(self._fitting.path_events(passage)[0].time_s, beat_s) for passage in passages]
        others = [placing.seen(passages, lines, index) for index in range(len(passages))]
        return max(places, others, key=lambda some: sum(place.agreeing for place in some))

    def _lines(self, places: Sequence[Place]) -> list[Line]:
        return self._fitting.lines([self._fitting.seen_events(place.passage, place.seen or ()) for place in places])

    def _sighted_tuning(self, places: Sequence[Place]) -> float:
        return self._fitting.tuning_cents([one.cents for place in places for one in place.seen or ()])

    def _look(
        self,
        passages: Sequence[Passage],
        lines: Sequence[Line],
        tuning: float,
        judge: Judge,
        sound: Sound,
        before: Sequence[Look | None],
    ) -> list[Look]:
        """Hear each passage where its line says; what was heard before stays where the line has hardly moved."""
        spans = list(pairwise(self._fitting.borders(passages, lines)))
        scores = [self._fitting.score(passage, line, tuning) for passage, line in zip(passages, lines, strict=True)]
        kept = [
            None if last is None or last.is_stale(line, tuning) or not last.is_within(*span) else last
            for last, line, span in zip(before, lines, spans, strict=True)
        ]
        anew = [index for index, last in enumerate(kept) if last is None]
        heard = iter(self._spread.each(lambda index: _heard(sound, judge, scores[index], *spans[index]), anew))
        return [
            replace(last, score=last.at(line, tuning)) if last else Look(score, score, *next(heard), *span)
            for last, line, score, span in zip(kept, lines, scores, spans, strict=True)
        ]

    def _tuning(self, judgements: Sequence[Judgement]) -> float:
        return self._fitting.tuning_cents([value for judgement in judgements for value in judgement.cents_off()])

    def _take(
        self, take: str, source: Literal["audio", "midi"], reading: _Reading, judgements: Sequence[Judgement]
    ) -> TakeVerdict:
        found: list[FigureVerdict] = []
        attempts: dict[int, int] = {}
        laid = zip(reading.passages, reading.lines, reading.looks, judgements, strict=True)
        for passage, line, look, judgement in laid:
            attempts[passage.figure] = attempts.get(passage.figure, 0) + 1
            found.append(self._fitting.verdict(passage, attempts[passage.figure], line, judgement))
            self._heard[found[-1].figure.name, found[-1].attempt] = look.notes
        for index, (one, following) in enumerate(pairwise(found)):
            if one.figure is following.figure:
                found[index] = broken_off(one, following)
        for index, figure in enumerate(self.brief.figures):
            if index not in attempts:
                earlier = {f.name for f in self.brief.figures[:index]}
                at = max((i + 1 for i, verdict in enumerate(found) if verdict.figure.name in earlier), default=0)
                found.insert(at, FigureVerdict(figure, 1, False, None, None, (), ()))
        tuning = reading.tuning if self.brief.lesson.reference_hz is None else 0.0
        return TakeVerdict(self.brief.lesson.title, take, source, tuning, 60.0 / reading.beat_s, tuple(found))
