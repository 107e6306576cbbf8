"""Where attempts lie in a take: their lines from beats to seconds, its tuning, where one ends and the next begins.

The same for a whole take and for what has been played of it so far.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from livecheck.hearing.listening import Glimpse
from livecheck.hearing.median import median
from livecheck.hearing.score import TimedScore
from livecheck.judging.brief import Brief
from livecheck.judging.places.passage import Passage
from livecheck.judging.timing import Event, Line, fit_click, fit_free
from livecheck.judging.verdict import CheckpointVerdict, FigureVerdict
from livecheck.judging.verdicts.judge import Judgement
from livecheck.lesson.expectation import expect

LEAST_SUPPORT = 0.3
FOUND_BY = ((0.66, 0.0), (0.5, 0.4), (0.42, 0.5), (LEAST_SUPPORT, 0.6))
"""With so much support a figure is found if so large a share of its checkpoints was heard at the right pitch: what
agrees with it by halves may be another, which is of no lesson, and would be told full of mistakes."""
ASTRAY_WEIGHT, FADED_WEIGHT, EXTRA_WEIGHT = 0.5, 0.25, 0.5
"""What a checkpoint counts for that is not judged, because its string had gone astray or was right and faded, and,
where a figure is in doubt, what was struck beyond what it asks: they speak against it less than a checkpoint that was
wrong."""
PATH_MOVE_WEIGHT = 0.3
DWELT_S = 0.2
"""Where the way stays so long at a pick, it began there with another sound of the same pitch."""
MOST_TUNING_CENTS = 50.0
DOUBTFUL_RIGHT, ALONE_RIGHT = 0.5, 0.8
"""Share of a figure's checkpoints that must be right where only the forgiving follower found it; the second, where
nothing else of the lesson is in the take."""
NEAR_BEATS = 0.25
"""What is struck so shortly before an attempt belongs to it, though the one before may still have time to go."""
EARLIEST_S = 0.05
"""An attempt that was broken off does not reach into the next one, however long it is written."""
LEAST_GAPS = 2
"""From fewer gaps between passages, which a pause would make longer, no tempo is taken."""
SPEEDS = (0.6, 1.5)
"""The slowest and the fastest tempo of a take, in shares of the written one."""


class Fitting:
    """Lays the figures of a brief on a take."""

    def __init__(self, brief: Brief) -> None:
        self.brief = brief
        self.expectations = [expect(figure, brief.lesson.copedent) for figure in brief.figures]
        reference_hz = brief.lesson.reference_hz
        self.reference_cents = 0.0 if reference_hz is None else 1200.0 * float(np.log2(reference_hz / 440.0))

    def score(self, passage: Passage, line: Line, tuning: float) -> TimedScore:
        path = (passage.times_s, passage.beats)
        return TimedScore(self.expectations[passage.figure], line.start_s, line.beat_s, tuning, path)

    def borders(self, passages: Sequence[Passage], lines: Sequence[Line]) -> list[float]:
        """Where one attempt ends and the next begins: half way from the last thing asked, or played, to the first."""
        borders = [float("-inf")]
        for (one, line), (other, following) in pairwise(zip(passages, lines, strict=True)):
            last_s = line.time_s(max(n.start_beat for n in self.expectations[one.figure].notes))
            last_s = max(last_s, line.time_s(self.expectations[one.figure].beats[-1]))
            last_s = min(last_s, float(one.times_s[-1]))
            first_s = following.time_s(self.expectations[other.figure].beats[0])
            written_s = line.time_s(1.0 + float(self.expectations[one.figure].figure.length))
            border_s = max(0.5 * (last_s + first_s), first_s - following.beat_s)
            border_s = max(border_s, min(written_s, first_s - NEAR_BEATS * following.beat_s))
            borders.append(min(border_s, first_s - EARLIEST_S))
        return [*borders, float("inf")]

    def apart(self, passages: Sequence[Passage], lines: Sequence[Line], known: Sequence[bool]) -> list[int]:
        """The places of the passages that are known, and of those others that begin after the known one before them has
        ended, be it broken off: one that begins earlier takes its picks for its own."""
        kept = []
        ended_s = float("-inf")
        for place, (passage, line, certain) in enumerate(zip(passages, lines, known, strict=True)):
            beats = self.expectations[passage.figure].beats
            if certain:
                ended_s = min(float(passage.times_s[-1]), line.time_s(beats[-1]))
            if certain or line.time_s(beats[0]) >= ended_s:
                kept.append(place)
        return kept

    def fits(self, passages: Sequence[Passage], lines: Sequence[Line], index: int) -> bool:
        """Whether a passage begins after all that is asked before it, and ends before what is asked after it; of one
        that the same figure follows, as far as the player's way went, since it may have been broken off."""
        first, last = max(0, index - 1), min(len(passages), index + 2) - 1
        for at in range(first, last):
            begin_s = lines[at + 1].time_s(self.expectations[passages[at + 1].figure].beats[0])
            end_s = lines[at].time_s(self.expectations[passages[at].figure].beats[-1])
            if passages[at].figure == passages[at + 1].figure:
                end_s = min(end_s, float(passages[at].times_s[-1]))
            if end_s >= begin_s:
                return False
        return True

    def path_events(self, passage: Passage) -> list[Event]:
        """When the player's way came to each beat on which something is asked; picks have an onset to go by, unless
        the way stays there, moves have none. A rolled grip is one event: its strings come and go astray together."""
        expectation = self.expectations[passage.figure]
        picks = {note.start_beat for note in expectation.notes if passage.dwelt_s(note.start_beat) < DWELT_S}
        begins = {step.number: float(step.beat) for step in expectation.figure.steps}
        rolled = {note.start_beat for note in expectation.notes if note.start_beat > begins[note.checkpoints[0].step]}
        reached = [beat for beat in expectation.beats if beat <= passage.beats[-1] + 1e-6 and beat not in rolled]
        return [Event(b, passage.time_of(b), 1.0 if b in picks else PATH_MOVE_WEIGHT) for b in reached]

    def seen_events(self, passage: Passage, seen: Sequence[Glimpse]) -> list[Event]:
        """The picks of a passage at first sight, and its way for what has no pick."""
        first = {one.checkpoint.step: Event(one.checkpoint.beat, one.time_s) for one in reversed(seen)}
        picked = {event.beat for event in first.values()}
        rest = [event for event in self.path_events(passage) if event.beat not in picked]
        return sorted([*first.values(), *rest], key=lambda event: event.beat)

    def lines(self, events: Sequence[Sequence[Event]]) -> list[Line]:
        beat_s = self.brief.lesson.beat_s
        if self.brief.timing == "click":
            return fit_click(events, beat_s, self.brief.start_s, self.brief.begins_s)
        return fit_free(events, beat_s)

    def beat_between(self, passages: Sequence[Passage]) -> float | None:
        """How long a beat is if each passage lasts until the next begins, as most of them do; None where the lesson's
        own tempo counts, too few follow each other or no player goes at that tempo."""
        if self.brief.timing == "click":
            return None
        gaps_s = [
            (self.path_events(following)[0].time_s - self.path_events(one)[0].time_s)
            / float(self.expectations[one.figure].figure.length)
            for one, following in pairwise(passages)
        ]
        beat_s = median(gaps_s) if len(gaps_s) >= LEAST_GAPS else 0.0
        slowest, fastest = (self.brief.lesson.beat_s / speed for speed in SPEEDS)
        return beat_s if fastest <= beat_s <= slowest else None

    def tuning_cents(self, cents: Sequence[float]) -> float:
        """The take's own pitch from how far its checkpoints are off, in cents; the reference, if there is one."""
        if self.brief.lesson.reference_hz is not None:
            return self.reference_cents
        return float(np.clip(median(cents), -MOST_TUNING_CENTS, MOST_TUNING_CENTS)) if cents else 0.0

    def found(self, passages: Sequence[Passage], judgements: Sequence[Judgement]) -> list[int]:
        """The places of those of a take's passages that are their figures; of doubtful ones one that is borne out where
        nothing is certain makes the lesson certain for the others."""
        aside = [self._is_aside(passages, index) for index in range(len(passages))]

        def found(alone: bool) -> list[int]:
            return [i for i, one in enumerate(judgements) if self.is_found(passages[i], one, alone, aside[i])]

        if all(passage.doubtful for passage in passages) and not found(alone=True):
            return []
        return found(alone=False)

    def is_found(self, passage: Passage, judgement: Judgement, alone: bool, aside: bool) -> bool:
        """Whether a passage is its figure: by the sound of the whole, or, where that is weak, by its checkpoints.
        `alone`: whether nothing else of the lesson is certain; `aside`: whether a single note of it may be one of the
        figure before it, a stray or a wrong one, for all its sound."""
        if not judgement.heard:
            return False
        picks = [checkpoint for checkpoint in judgement.checkpoints if checkpoint.kind == "pick"]
        # Where one of several picks was heard the move that it went on by is no more than that.
        telling = picks if len(picks) > 1 else judgement.checkpoints
        told = sum(checkpoint.heard_s is not None for checkpoint in telling)
        is_single = aside and told < min(2, len(telling))
        asked = _asked(judgement.checkpoints, ASTRAY_WEIGHT if is_single else FADED_WEIGHT, aside)
        if passage.doubtful or is_single:
            asked += EXTRA_WEIGHT * len(judgement.extras)
            return judgement.right >= (ALONE_RIGHT if alone else DOUBTFUL_RIGHT) * asked
        least = next(share for support, share in FOUND_BY if passage.support >= support)
        return judgement.right >= least * asked

    def _is_aside(self, passages: Sequence[Passage], index: int) -> bool:
        """Whether one of some passages comes right after the same figure, or out of the lesson's order, between two
        others, and the player is back in it with the next. Before that figure once more one that is certain may have
        been broken off. What is doubtful itself tells nothing of what is certain."""
        one = passages[index]
        before, after = (
            next((passage.figure for passage in some if one.doubtful or not passage.doubtful), none)
            for some, none in ((reversed(passages[:index]), -1), (passages[index + 1 :], len(self.expectations)))
        )
        if one.figure == before:
            return one.doubtful or after != before
        return before <= after and not before <= one.figure <= after

    def verdict(self, passage: Passage, attempt: int, line: Line, judgement: Judgement) -> FigureVerdict:
        """The verdict on an attempt."""
        checkpoints = self.referenced(judgement.checkpoints)
        figure = self.brief.figures[passage.figure]
        return FigureVerdict(figure, attempt, True, line.start_s, 60.0 / line.beat_s, checkpoints, judgement.extras)

    def referenced(self, checkpoints: Sequence[CheckpointVerdict]) -> tuple[CheckpointVerdict, ...]:
        """The same verdicts by the lesson's reference: with a fixed one its pitches themselves lie higher or lower."""
        semitones = self.reference_cents / 100.0
        return tuple(replace(c, expected_midi=c.expected_midi + semitones) for c in checkpoints)


def _asked(checkpoints: Sequence[CheckpointVerdict], faded_weight: float, is_aside: bool) -> float:
    """How much some checkpoints of a figure, in order, count for together. Strings that are wrong by as much at once
    are one mistake, the bar's, and count as one; not where another figure may be what was played."""
    asked = 0.0
    right: dict[int, bool] = {}
    mistakes: set[tuple[int, int]] = set()
    for one in checkpoints:
        if not one.judged:
            asked += faded_weight if right.get(one.string) else ASTRAY_WEIGHT
            continue
        right[one.string] = one.right
        if one.right or one.cents is None or is_aside:
            asked += 1.0
        else:
            mistakes.add((one.step, round(one.cents / 100.0)))
    return asked + len(mistakes)
