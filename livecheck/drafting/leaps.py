"""Tracks that were captured: lines in, the same without what no hand did out.

A string that leaps, with no glide, has not moved: what was followed is another string's partial from there on. The leap
of several strings at once is a bar's that moved faster than the spectra tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from livecheck.drafting.line import Line, Rest
from livecheck.drafting.resting import LEAST_MOVE

LEAP_S = 0.02
"""Common practice, no source: no bar and no pedal takes a string to another pitch within it."""
WITH_S = 0.07
"""Strings under one bar arrive within it."""


def without_leaps(lines: Sequence[Line]) -> list[Line]:
    """The lines, each rest that was leapt to left out; a line that does not come back from its leap ended there."""
    return [_without(line, [other for other in lines if other is not line]) for line in lines]


def _without(line: Line, others: Sequence[Line]) -> Line:
    kept = [line.rests[0]]
    end_s = line.end_s
    for before, rest in pairwise(line.rests):
        up = rest.midi > before.midi
        if rest.over_s > LEAP_S or any(_goes(other, rest, up) for other in others):
            end_s = line.end_s
            if not _is_at(rest, kept[-1]):
                kept.append(rest)
        elif len(kept) > 1 and kept[-1].over_s <= LEAP_S and _is_at(rest, kept[-2]):
            kept.pop()
        else:
            end_s = rest.arrived_s
    return replace(line, rests=tuple(kept), end_s=line.end_s if _is_at(line.rests[-1], kept[-1]) else end_s)


def _is_at(one: Rest, other: Rest) -> bool:
    return abs(one.midi - other.midi) < LEAST_MOVE


def _goes(line: Line, rest: Rest, up: bool) -> bool:
    """Whether a line is on its way up, or down, when another arrives."""
    return any(
        after.arrived_s - after.over_s - WITH_S <= rest.arrived_s <= after.arrived_s + WITH_S
        and (after.midi > before.midi) == up
        for before, after in pairwise(line.rests)
    )
