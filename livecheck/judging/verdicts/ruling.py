"""What is allowed at a checkpoint, and the verdict on it, given what was heard: the same for all that judge.

In: a score laid on the clock, tolerances, what was heard. Out: limits in seconds, faults, verdicts.
"""

from __future__ import annotations

from collections.abc import Sequence

from livecheck.hearing.score import TimedScore
from livecheck.judging.verdict import CheckpointVerdict, Fault
from livecheck.lesson.expectation import Checkpoint, Kind
from livecheck.lesson.tolerances import Tolerances

EARLY_BEATS = 0.05
"""What comes so shortly before a step belongs to it."""


def limit_s(score: TimedScore, step: int, kind: Kind, tolerances: Tolerances) -> float:
    """How far from its time something may come."""
    gap_s = score.expectation.figure.gaps[step - 1] * score.beat_s
    widest_ms = tolerances.pick_ms if kind == "pick" else tolerances.arrival_ms
    return min(widest_ms / 1000.0, gap_s * tolerances.gap_share)


def in_tune(score: TimedScore, checkpoint: Checkpoint, midi: float, tolerances: Tolerances) -> list[Fault]:
    """What is wrong with the pitch that was heard; nothing, if it is near enough."""
    cents = 100.0 * (midi - score.sounding(checkpoint))
    if abs(cents) >= tolerances.wrong_note_cents:
        return ["wrong-note"]
    if abs(cents) > tolerances.cents:
        return ["sharp" if cents > 0.0 else "flat"]
    return []


def step_at(score: TimedScore, time_s: float) -> int:
    """The number of the last step that has come at a time; the first one's, before that."""
    beat = (time_s - score.start_s) / score.beat_s + 1.0
    steps = score.expectation.figure.steps
    return max((step.number for step in steps if float(step.beat) <= beat + EARLY_BEATS), default=1)


def verdict_on(
    score: TimedScore,
    checkpoint: Checkpoint,
    heard_s: float | None,
    midi: float | None,
    faults: Sequence[Fault],
    cause: str | None = None,
) -> CheckpointVerdict:
    """The verdict on a checkpoint that was heard at a time and a pitch."""
    expected_s = score.time_s(checkpoint.beat)
    return CheckpointVerdict(
        step=checkpoint.step,
        string=checkpoint.string,
        kind=checkpoint.kind,
        move=checkpoint.move,
        beat=checkpoint.beat,
        judged=True,
        expected_s=expected_s,
        heard_s=heard_s,
        timing_ms=None if heard_s is None else 1000.0 * (heard_s - expected_s),
        expected_midi=checkpoint.midi,
        heard_midi=midi,
        cents=None if midi is None else 100.0 * (midi - score.sounding(checkpoint)),
        faults=tuple(faults),
        cause=cause,
    )
