"""How sure a verdict on a checkpoint is, from 0 to 1.

In: what the verdict rests on. Out: about the share of such verdicts that are right. The weights are those of a logistic
regression (Cox, "The regression analysis of binary sequences", 1958) on verdicts of the benchmark, dry and not; which
takes, and how well it holds on others, `python -m tests.bench hard` prints.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from livecheck.hearing.scene import WINDOW
from livecheck.hearing.score import TimedScore
from livecheck.hearing.sound.partials import WEIGHTS as PARTIAL_WEIGHTS
from livecheck.hearing.sound.partials import free_partials
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.strokes.picks import MASKED_FREE
from livecheck.judging.verdict import CheckpointVerdict
from livecheck.judging.verdicts.match import Match
from livecheck.lesson.expectation import Kind, Note
from livecheck.lesson.tolerances import Tolerances

BIN_HZ = WORK_RATE_HZ / WINDOW
"""How finely strings are told from each other."""
BEFORE_S, AFTER_S, LISTENED_S = 0.1, 0.02, 0.35

BIAS, SAID, SUPPORT, FREE, MARGIN, ASTRAY = -0.9, -2.0, 2.7, 1.4, 3.7, -4.8
"""Of the regression, on 8600 verdicts: every kind of `hard` at its middle level, seeds 10 to 12, steel and nylon."""
WIDEST_MARGIN = 0.3
"""Further from a limit nothing is surer."""
LEAST, MOST = 0.02, 0.99
MASKED = 0.45
"""For a string that was not heard, with so few partials of its own that it may have been covered."""
GRANTED = 0.9
"""For one of as few that is taken to be right: nothing tells that it was struck but that most strings are."""


@dataclass(frozen=True)
class Basis:
    """What a verdict rests on; shares from 0 to 1."""

    said: bool
    """Whether a fault is said."""
    heard: bool
    """Whether there was anything to judge by."""
    support: float
    """How much of what its pitch calls for was there while it was listened to."""
    free: float
    """How much of that no other string covers, as the lesson has it."""
    margin: float
    """How far from its limit is what was measured, in limits."""
    right: float
    """Share of the attempt's checkpoints that were heard at their pitch, or of which it is clear why not: what hands
    and feet did wrong together does not put in doubt that this is the figure, and where."""


def confidence_of(basis: Basis) -> float:
    """The probability that a verdict is right, 0 to 1."""
    total = BIAS + SUPPORT * basis.support + FREE * basis.free
    total += MARGIN * min(basis.margin, WIDEST_MARGIN) / WIDEST_MARGIN
    total += basis.said * (SAID + ASTRAY * (1.0 - basis.right))
    sure = min(max(1.0 / (1.0 + math.exp(-total)), LEAST), MOST)
    if basis.free >= MASKED_FREE:
        return sure
    if not basis.said:
        return min(sure, GRANTED)
    return sure if basis.heard else min(sure, MASKED)


class Confidence:
    """Says how sure the verdicts on one attempt are."""

    def __init__(
        self,
        score: TimedScore,
        matches: Sequence[Match],
        limit_s: Callable[[int, Kind], float],
        tolerances: Tolerances,
    ) -> None:
        self._score = score
        self._limit_s = limit_s
        self._tolerances = tolerances
        self._matches = {(c.step, c.string, c.kind): match for match in matches for c in match.note.checkpoints}

    def of(self, checkpoints: Sequence[CheckpointVerdict]) -> list[CheckpointVerdict]:
        """The same verdicts, causes named, each with its confidence."""
        right = [c.right or c.cause is not None for c in checkpoints if c.judged]
        share = sum(right) / max(1, len(right))
        return [replace(c, confidence=confidence_of(self._basis(c, share))) for c in checkpoints]

    def _basis(self, verdict: CheckpointVerdict, right: float) -> Basis:
        match = self._matches[verdict.step, verdict.string, verdict.kind]
        at_s = verdict.expected_s if verdict.heard_s is None else verdict.heard_s
        from_s = at_s + (AFTER_S if verdict.kind == "pick" else -BEFORE_S)
        supports = [
            note.support(from_s, at_s + LISTENED_S)
            for note in match.heard
            if note.start_s <= at_s + LISTENED_S and note.end_s >= from_s
        ]
        others = self._others(verdict)
        free = free_partials(np.array([verdict.expected_midi]), others, BIN_HZ)[0]
        return Basis(
            said=bool(verdict.faults),
            heard=verdict.heard_s is not None,
            support=max(supports, default=0.0),
            free=float((free * PARTIAL_WEIGHTS).sum() / PARTIAL_WEIGHTS.sum()),
            margin=self._margin(verdict),
            right=right,
        )

    def _others(self, verdict: CheckpointVerdict) -> list[float]:
        """The lesson's pitches of the other strings that sound at a checkpoint."""
        return [
            float(note.midi_at(np.array(max(verdict.beat, note.start_beat))))
            for note in self._score.expectation.notes
            if note.string != verdict.string
            and note.start_beat <= verdict.beat + 1e-6 < note.end_beat
            and self._was_heard(note)
        ]

    def _was_heard(self, note: Note) -> bool:
        pick = note.checkpoints[0]
        return bool(self._matches[pick.step, pick.string, pick.kind].heard)

    def _margin(self, verdict: CheckpointVerdict) -> float:
        margins = [1.0]
        if verdict.timing_ms is not None:
            margins.append(abs(abs(verdict.timing_ms) / (1000.0 * self._limit_s(verdict.step, verdict.kind)) - 1.0))
        if verdict.cents is not None:
            limits = (self._tolerances.cents, self._tolerances.wrong_note_cents)
            margins += [abs(abs(verdict.cents) / limit - 1.0) for limit in limits]
        return min(margins)
