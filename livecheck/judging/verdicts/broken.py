"""An attempt that was broken off, to begin the figure anew: what was not played any more is nobody's fault."""

from __future__ import annotations

from dataclasses import replace

from livecheck.judging.verdict import FigureVerdict

LEAST_LEFT_BEATS = 0.5
"""Had its last step been played, the next attempt would not have begun so soon after it."""
IN_TIME_BEATS = 0.25
"""Who begins again where the figure's written length ends, or so little before that, has not broken it off."""


def broken_off(attempt: FigureVerdict, following: FigureVerdict) -> FigureVerdict:
    """An attempt, with what came after its break not judged, if the one that follows is the same figure and began
    too soon for its last step to have been played; else as it is."""
    if attempt.tempo is None or attempt.start_s is None or following.start_s is None:
        return attempt
    heard = [c.step for c in attempt.checkpoints if c.heard_s is not None]
    last = max(heard, default=0)
    rest = [c for c in attempt.checkpoints if c.step > last]
    if not rest or not heard:
        return attempt
    beat_s = 60.0 / attempt.tempo
    in_time_s = attempt.start_s + (float(attempt.figure.length) - IN_TIME_BEATS) * beat_s
    if following.start_s > min(max(c.expected_s for c in rest) + LEAST_LEFT_BEATS * beat_s, in_time_s):
        return attempt
    unjudged = tuple(
        replace(c, judged=False, faults=(), cause=None, heard_midi=None, cents=None, confidence=1.0)
        if c.step > last
        else c
        for c in attempt.checkpoints
    )
    return replace(attempt, checkpoints=unjudged, broken_off=last)
