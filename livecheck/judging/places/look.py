"""What was heard of one figure of a take, and whether it has to be listened to anew."""

from __future__ import annotations

from dataclasses import dataclass, replace

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.score import TimedScore
from livecheck.judging.timing import Line
from livecheck.judging.verdicts.judge import Judge, Judgement

SETTLED_S, SETTLED_CENTS = 0.04, 10.0
"""Another look is taken when the last one moved the line or the tuning by more than this."""
BORDER_S = 0.15
"""So little a neighbour may move without one."""


@dataclass(frozen=True)
class Look:
    """What was heard of one passage, and where it was looked for."""

    score: TimedScore
    heard_by: TimedScore
    notes: list[HeardNote]
    judgement: Judgement
    """What was made of the notes when they were heard; a line that has moved a little since changes none of it."""
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

    def left_by(self, other: Look, judge: Judge) -> Look:
        """What is left of it by a neighbour that was found to reach further than was thought."""
        before = self.from_s < other.from_s
        from_s = self.from_s if before else max(self.from_s, other.until_s)
        until_s = min(self.until_s, other.from_s) if before else self.until_s
        notes = [note for note in self.notes if from_s <= note.start_s < until_s]
        if len(notes) == len(self.notes):
            return replace(self, from_s=from_s, until_s=until_s)
        judgement = judge.judge_briefly(self.score, notes)
        return replace(self, notes=notes, from_s=from_s, until_s=until_s, judgement=judgement)
