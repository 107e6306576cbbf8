"""The verdict on a take: which figures were played and when, at which tempo and tuning, and what was wrong with each.

The follower says which figure was played where; each is then listened to closely where the lines through all of them
say, and again if what was heard moves the lines. Stretches that nothing explains get a second, more forgiving hearing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from livecheck.errors import Unusable
from livecheck.hearing.ear import Glance
from livecheck.hearing.heard import HeardNote
from livecheck.hearing.salience import HOP_S
from livecheck.hearing.score import TimedScore
from livecheck.judging.brief import Brief
from livecheck.judging.echo import is_repeat, lag_s
from livecheck.judging.follow import Follower, Passage
from livecheck.judging.judge import Judge, Judgement
from livecheck.judging.sound import Sound
from livecheck.judging.timing import Event, Line, fit_click, fit_free
from livecheck.judging.verdict import FigureVerdict, TakeVerdict
from livecheck.lesson.expectation import expect

LEAST_SUPPORT = 0.3
FOUND_BY = ((0.66, 0.0), (0.5, 0.34), (0.42, 0.45), (LEAST_SUPPORT, 0.6))
"""With so much support a figure is found if so large a share of its checkpoints was heard at the right pitch."""
PATH_MOVE_WEIGHT = 0.3
LEAST_TAILS, WET_DB, WET_SHARE = 4, -35.0, 0.3
MOST_TUNING_CENTS = 50.0
FAR_TUNINGS_CENTS = (-45.0, 45.0)
"""Tunings tried where figures are missing: the follower itself hears some 40 cents to each side."""
DOUBTFUL_RIGHT, ALONE_RIGHT = 0.5, 0.8
"""Share of a figure's checkpoints that must be right where only the forgiving follower found it; the second, where
nothing else of the lesson is in the take."""
LEAST_STRETCH_S = 0.6
"""Less sound between two figures hides no third."""
LOOKS = 3
SETTLED_S, SETTLED_CENTS = 0.04, 10.0
"""A second look is taken when the first one moved the lines or the tuning by more than this."""
BORDER_S = 0.15
EARLIEST_S = 0.05
"""An attempt that was broken off does not reach into the next one, however long it is written."""


@dataclass(frozen=True)
class _Look:
    """What was heard of one passage, and where it was looked for."""

    score: TimedScore
    heard_by: TimedScore
    notes: list[HeardNote]
    from_s: float
    until_s: float
    """Where the attempts before and after it were thought to begin."""

    def at(self, line: Line, tuning: float) -> TimedScore:
        return replace(self.score, start_s=line.start_s, beat_s=line.beat_s, tuning_cents=tuning)

    def is_stale(self, line: Line, tuning: float) -> bool:
        """Whether the line or the tuning has moved so far that another look may hear something else."""
        last = 1.0 + float(self.score.expectation.figure.length)
        moved = max(abs(self.heard_by.time_s(beat) - line.time_s(beat)) for beat in (1.0, last))
        return moved > SETTLED_S or abs(tuning - self.heard_by.tuning_cents) > SETTLED_CENTS

    def is_within(self, from_s: float, until_s: float) -> bool:
        """Whether its neighbours are still where they were thought to be: one that was no figure cut into this one."""
        pairs = ((self.from_s, from_s), (self.until_s, until_s))
        return all(old == new or abs(old - new) <= BORDER_S for old, new in pairs)


@dataclass(frozen=True)
class _Reading:
    """What a take was taken for."""

    passages: Sequence[Passage]
    looks: Sequence[_Look]
    lines: Sequence[Line]
    tuning: float


class TakeJudge:
    """Judges a take: fed glances while it is played, asked for the verdict at its end."""

    def __init__(self, brief: Brief) -> None:
        self.brief = brief
        self._expectations = [expect(figure, brief.lesson.copedent) for figure in brief.figures]
        reference_hz = brief.lesson.reference_hz
        self._reference_cents = 0.0 if reference_hz is None else 1200.0 * float(np.log2(reference_hz / 440.0))
        self._follower = self._new_follower(self._reference_cents)
        self._loud: list[NDArray[np.float32]] = []

    def follow(self, glance: Glance) -> None:
        """Take in the next frames."""
        self._follower.feed(glance)
        self._loud.append(glance.loud)

    def verdict(self, take: str, sound: Sound) -> TakeVerdict:
        """The verdict on all that was fed. Unusable if no figure of the lesson is in it."""
        judge = Judge(self.brief.lesson.copedent, self.brief.tolerances, sound.blur_s)
        passages, tuning = self._passages(sound)
        reading = self._read(passages, tuning, judge, sound)
        passages = self._overlooked(reading, sound)
        if len(passages) > len(reading.passages):
            reading = self._read(passages, reading.tuning, judge, sound)
        if not reading.passages:
            raise Unusable(
                f'{take}: no figure of this lesson was found in it; wanted a take of "{self.brief.lesson.title}"'
            )
        looks, lines = reading.looks, reading.lines
        notes = [note for look in looks for note in look.notes]
        wet = _is_wet(notes)
        final = [
            judge.judge(look.at(line, reading.tuning), look.notes, wet) for look, line in zip(looks, lines, strict=True)
        ]
        if wet:
            final = _without_repeats(final, notes)
        return self._take(take, sound.source, reading.passages, lines, reading.tuning, final)

    def _new_follower(self, tuning: float, beat_s: float | None = None, forgiving: bool = False) -> Follower:
        beat_s = self.brief.lesson.beat_s if beat_s is None else beat_s
        return Follower(self._expectations, beat_s, tuning, forgiving)

    def _passages(self, sound: Sound) -> tuple[list[Passage], float]:
        """The passages that explain the take best, at the tuning, in cents, at which they do."""
        best, tuning = self._follower, self._reference_cents
        passages = best.passages()
        if self.brief.lesson.reference_hz is None and len({p.figure for p in passages}) < len(self._expectations):
            others = [self._new_follower(cents) for cents in FAR_TUNINGS_CENTS]
            for glance in sound.glances(0.0, math.inf):
                for other in others:
                    other.feed(glance)
            for other, cents in zip(others, FAR_TUNINGS_CENTS, strict=True):
                if other.total > best.total:
                    best, tuning = other, cents
            passages = best.passages()
        return [p for p in passages if p.support >= LEAST_SUPPORT], tuning

    def _overlooked(self, reading: _Reading, sound: Sound) -> list[Passage]:
        """The passages found, and what a more forgiving follower makes of the stretches between them."""
        passages = list(reading.passages)
        borders = [0.0, *(t for p in passages for t in (p.times_s[0], p.times_s[-1])), math.inf]
        beat_s = float(np.median([line.beat_s for line in reading.lines])) if passages else None
        sounding = np.concatenate([[0.0], *self._loud]).cumsum() * HOP_S
        for from_s, until_s in zip(borders[::2], borders[1::2], strict=True):
            first, last = (int(min(time_s / HOP_S, len(sounding) - 1)) for time_s in (from_s, until_s))
            if sounding[last] - sounding[first] < LEAST_STRETCH_S:
                continue
            follower = self._new_follower(reading.tuning, beat_s, forgiving=True)
            for glance in sound.glances(first * HOP_S, until_s):
                follower.feed(glance)
            passages += [replace(p, times_s=p.times_s + first * HOP_S, doubtful=True) for p in follower.passages()]
        return sorted(passages, key=lambda p: p.times_s[0])

    def _read(self, passages: Sequence[Passage], tuning: float, judge: Judge, sound: Sound) -> _Reading:
        """Lines, tuning and notes of the passages that hold their figures, looked at until they no longer move."""
        passages = list(passages)
        lines = self._lines([self._path_events(p) for p in passages]) if passages else []
        lines, tuning = self._first_sight(passages, lines, tuning, sound)
        looks: list[_Look] = []
        for _ in range(LOOKS if passages else 0):
            looks = self._look(passages, lines, tuning, sound, looks)
            judgements = [judge.judge(look.score, look.notes) for look in looks]
            alone = all(passage.doubtful for passage in passages)
            kept = [i for i, judgement in enumerate(judgements) if self._is_found(passages[i], judgement, alone)]
            passages, looks = [passages[i] for i in kept], [looks[i] for i in kept]
            if not kept:
                break
            lines = self._lines([judgements[i].events() for i in kept])
            tuning = self._tuning([judgements[i] for i in kept])
            settled = not any(look.is_stale(line, tuning) for look, line in zip(looks, lines, strict=True))
            if settled and len(kept) == len(judgements):
                break
        return _Reading(passages, looks, lines if passages else [], tuning)

    def _first_sight(
        self, passages: Sequence[Passage], lines: list[Line], tuning: float, sound: Sound
    ) -> tuple[list[Line], float]:
        """Lines and tuning from the picks alone, so that the first full look is seldom in the wrong place."""
        if not passages:
            return lines, tuning
        borders = self._borders(passages, lines)
        events, cents = [], []
        for index, (passage, line) in enumerate(zip(passages, lines, strict=True)):
            score = self._score(passage, line, tuning)
            seen = sound.glimpse(score, borders[index], borders[index + 1])
            if seen is None:
                return lines, tuning
            cents += [one.cents for one in seen]
            first = {one.checkpoint.step: Event(one.checkpoint.beat, one.time_s) for one in reversed(seen)}
            picked = {event.beat for event in first.values()}
            rest = [event for event in self._path_events(passage) if event.beat not in picked]
            events.append(sorted([*first.values(), *rest], key=lambda event: event.beat))
        return self._lines(events), self._tuned(cents)

    def _score(self, passage: Passage, line: Line, tuning: float) -> TimedScore:
        path = (passage.times_s, passage.beats)
        return TimedScore(self._expectations[passage.figure], line.start_s, line.beat_s, tuning, path)

    def _look(
        self, passages: Sequence[Passage], lines: Sequence[Line], tuning: float, sound: Sound, before: Sequence[_Look]
    ) -> list[_Look]:
        """Hear each passage where its line says; what was heard before stays where the line has hardly moved."""
        looks = []
        borders = self._borders(passages, lines)
        for index, (passage, line) in enumerate(zip(passages, lines, strict=True)):
            if (
                before
                and not before[index].is_stale(line, tuning)
                and before[index].is_within(*borders[index : index + 2])
            ):
                looks.append(replace(before[index], score=before[index].at(line, tuning)))
                continue
            score = self._score(passage, line, tuning)
            from_s, until_s = borders[index], borders[index + 1]
            looks.append(_Look(score, score, sound.hear(score, from_s, until_s), from_s, until_s))
        return looks

    def _borders(self, passages: Sequence[Passage], lines: Sequence[Line]) -> list[float]:
        """Where one attempt ends and the next begins: half way from the last thing asked, or played, to the first."""
        borders = [float("-inf")]
        for (one, line), (other, following) in pairwise(zip(passages, lines, strict=True)):
            last_s = line.time_s(max(n.start_beat for n in self._expectations[one.figure].notes))
            last_s = max(last_s, line.time_s(self._expectations[one.figure].beats[-1]))
            last_s = min(last_s, float(one.times_s[-1]))
            first_s = following.time_s(self._expectations[other.figure].beats[0])
            border_s = max(0.5 * (last_s + first_s), first_s - following.beat_s)
            borders.append(min(border_s, first_s - EARLIEST_S))
        return [*borders, float("inf")]

    def _path_events(self, passage: Passage) -> list[Event]:
        """When the player's way came to each beat on which something is asked; picks have an onset to go by, moves
        have none."""
        expectation = self._expectations[passage.figure]
        picks = {note.start_beat for note in expectation.notes}
        reached = [beat for beat in expectation.beats if beat <= passage.beats[-1] + 1e-6]
        return [Event(b, passage.time_of(b), 1.0 if b in picks else PATH_MOVE_WEIGHT) for b in reached]

    def _lines(self, events: Sequence[Sequence[Event]]) -> list[Line]:
        beat_s = self.brief.lesson.beat_s
        if self.brief.timing == "click":
            return fit_click(events, beat_s, self.brief.start_s)
        return fit_free(events, beat_s)

    def _tuning(self, judgements: Sequence[Judgement]) -> float:
        return self._tuned([value for judgement in judgements for value in judgement.cents_off()])

    def _tuned(self, cents: Sequence[float]) -> float:
        """The take's own pitch from how far its checkpoints are off, in cents; the reference, if there is one."""
        if self.brief.lesson.reference_hz is not None:
            return self._reference_cents
        return float(np.clip(np.median(cents), -MOST_TUNING_CENTS, MOST_TUNING_CENTS)) if cents else 0.0

    def _is_found(self, passage: Passage, judgement: Judgement, alone: bool) -> bool:
        """Whether a passage is its figure: by the sound of the whole, or, where that is weak, by its checkpoints."""
        if not judgement.heard:
            return False
        if passage.doubtful:
            return judgement.right >= (ALONE_RIGHT if alone else DOUBTFUL_RIGHT) * len(judgement.checkpoints)
        least = next(share for support, share in FOUND_BY if passage.support >= support)
        return judgement.right >= least * len(judgement.checkpoints)

    def _take(
        self,
        take: str,
        source: Literal["audio", "midi"],
        passages: Sequence[Passage],
        lines: Sequence[Line],
        tuning: float,
        judgements: Sequence[Judgement],
    ) -> TakeVerdict:
        found: list[FigureVerdict] = []
        attempts: dict[int, int] = {}
        for passage, line, judgement in zip(passages, lines, judgements, strict=True):
            attempts[passage.figure] = attempts.get(passage.figure, 0) + 1
            found.append(
                FigureVerdict(
                    self.brief.figures[passage.figure],
                    attempts[passage.figure],
                    True,
                    line.start_s,
                    60.0 / line.beat_s,
                    judgement.checkpoints,
                    judgement.extras,
                )
            )
        for index, figure in enumerate(self.brief.figures):
            if index not in attempts:
                earlier = {f.name for f in self.brief.figures[:index]}
                at = max((i + 1 for i, verdict in enumerate(found) if verdict.figure.name in earlier), default=0)
                found.insert(at, FigureVerdict(figure, 1, False, None, None, (), ()))
        if self.brief.lesson.reference_hz is not None:
            found = [_at_reference(verdict, self._reference_cents) for verdict in found]
            tuning = 0.0
        tempo = 60.0 / float(np.median([line.beat_s for line in lines]))
        return TakeVerdict(self.brief.lesson.title, take, source, tuning, tempo, tuple(found))


def _is_wet(notes: Sequence[HeardNote]) -> bool:
    """Whether an echo or reverb keeps sounding what the player has silenced: not one string rings on, but many do."""
    tails = [note.tail_db for note in notes if note.tail_db is not None]
    return len(tails) >= LEAST_TAILS and sum(tail > WET_DB for tail in tails) >= WET_SHARE * len(tails)


def _without_repeats(judgements: Sequence[Judgement], notes: Sequence[HeardNote]) -> list[Judgement]:
    """A delay unit's repeats are no extras."""
    echo_s = lag_s([extra for judgement in judgements for extra in judgement.extras], notes)
    if echo_s is None:
        return list(judgements)
    return [replace(j, extras=tuple(e for e in j.extras if not is_repeat(e, notes, echo_s))) for j in judgements]


def _at_reference(verdict: FigureVerdict, cents: float) -> FigureVerdict:
    """With a fixed reference the lesson's pitches themselves lie higher or lower."""
    moved = tuple(replace(c, expected_midi=c.expected_midi + cents / 100.0) for c in verdict.checkpoints)
    return replace(verdict, checkpoints=moved)
