"""Where else a figure may lie, and which of two places explains what was played with fewer mistakes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.judging.timing import RIVAL_S, Event, Line, line_at, rival_of
from livecheck.judging.verdicts.judge import Judgement
from livecheck.lesson.expectation import Expectation

SAME_S = 0.03
"""Notes that begin so near each other were struck together."""
SAME_SEMITONES = 0.5
"""A pitch so near another step's may be that."""


def rivals(expectation: Expectation, line: Line, judgement: Judgement, to_click: bool) -> list[Line]:
    """Where else a figure may lie than where it was judged: where half of what was heard agrees on another line; if
    equal notes follow each other in it, as many of them earlier or later as were wrong at most, since so many would be
    missing at one of its ends; and where most wrong notes are what other steps ask. Whole beats alone if it was played
    to a click."""
    half = None if to_click else rival_of(judgement.events(), line)
    wrong = {c.step for c in judgement.checkpoints if c.faults or not c.judged}
    after = [round(beat - expectation.beats[0], 6) for beat in expectation.beats]
    shifts = [
        shift
        for shift in expectation.shifts
        if sum(beats < shift for beats in after) <= len(wrong) and (shift.is_integer() or not to_click)
    ]
    offs_s = [beats * line.beat_s for shift in shifts for beats in (-shift, shift)]
    found = [*([half] if half else []), *(Line(line.start_s + off_s, line.beat_s) for off_s in offs_s)]
    mistaken = [Line(line.start_s + off_s, line.beat_s) for off_s in _mistaken_s(line, judgement, to_click)]
    for one in mistaken:
        if all(abs(one.start_s - other.start_s) > RIVAL_S for other in found):
            found.append(one)
    return found


def _mistaken_s(line: Line, judgement: Judgement, to_click: bool) -> list[float]:
    """By how much a figure lies elsewhere if wrong notes of it are what other steps ask, where most of them agree: one
    that is laid a step off, because its first or its last was wrong, has no more right than wrong."""
    if 2 * judgement.right > len(judgement.checkpoints):
        return []
    picks = [checkpoint for checkpoint in judgement.checkpoints if checkpoint.kind == "pick"]
    offs_s: list[float] = []
    for wrong in picks:
        if wrong.heard_s is None or wrong.heard_midi is None or "wrong-note" not in wrong.faults:
            continue
        for asked in picks:
            beats = wrong.beat - asked.beat
            if abs(wrong.heard_midi - asked.expected_midi) >= SAME_SEMITONES or (to_click and not beats.is_integer()):
                continue
            off_s = beats * line.beat_s if to_click else wrong.heard_s - asked.expected_s
            if abs(off_s) > RIVAL_S:
                offs_s.append(off_s)
    each_s = np.sort(np.array(offs_s))
    agree = each_s.searchsorted(each_s + RIVAL_S, "right") - each_s.searchsorted(each_s - RIVAL_S, "left")
    most: list[float] = each_s[agree == agree.max(initial=0)].tolist()
    return most


def elsewhere(events: Sequence[Event], line: Line, rival: Line) -> Line | None:
    """Where a figure lies by what was heard of it where a rival of its line has it: where most of that agrees, or, if
    that is where it lay, by what agrees with the rival, as long as half as much does; None where that is no more."""
    if not events:
        return None
    most = line_at(events, line.beat_s)
    if abs(most.start_s - line.start_s) > RIVAL_S:
        return most
    half = rival_of(events, most)
    near = [event for event in events if abs(event.time_s - rival.time_s(event.beat)) <= RIVAL_S]
    return line_at(near, line.beat_s) if half is not None and near else None


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
