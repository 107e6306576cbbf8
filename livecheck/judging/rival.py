"""Where else a figure may lie, and which of two places explains what was played with fewer mistakes."""

from __future__ import annotations

from collections.abc import Sequence

from livecheck.hearing.heard import HeardNote
from livecheck.judging.judge import Judgement
from livecheck.judging.timing import Line, rival_of
from livecheck.lesson.expectation import Expectation

SAME_S = 0.03
"""Notes that begin so near each other were struck together."""


def rivals(expectation: Expectation, line: Line, judgement: Judgement, to_click: bool) -> list[Line]:
    """Where else a figure may lie than where it was judged: where half of what was heard agrees on another line, and,
    if it was not clean and equal notes follow each other in it, some of them earlier or later; whole beats alone if it
    was played to a click."""
    half = None if to_click else rival_of(judgement.events(), line)
    shifts = [beats for beats in expectation.shifts if not to_click or beats.is_integer()] if judgement.mistakes else []
    offs_s = [beats * line.beat_s for shift in shifts for beats in (-shift, shift)]
    return [*([half] if half else []), *(Line(line.start_s + off_s, line.beat_s) for off_s in offs_s)]


def unexplained(judgement: Judgement, notes: Sequence[HeardNote], from_s: float, until_s: float) -> tuple[int, int]:
    """By what two places of a figure are compared, less being better: what was wrong there, not heard at all or played
    beyond it between two times, in which both lie; then how much was right, less than none."""
    told = [c.heard_s for c in judgement.checkpoints if c.heard_s is not None] + [e.at_s for e in judgement.extras]
    struck = sorted(note.start_s for note in notes if from_s <= note.start_s <= until_s)
    beyond: list[float] = []
    for at_s in struck:
        if all(abs(at_s - other_s) > SAME_S for other_s in (*told, *beyond)):
            beyond.append(at_s)
    unheard = sum(not checkpoint.judged for checkpoint in judgement.checkpoints)
    return judgement.mistakes + unheard + len(beyond), -judgement.right
