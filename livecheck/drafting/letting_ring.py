"""Strings that fade one before the other: lines in, the same with those let ring that a hand silenced together out.

When a string falls silent by itself is no matter of hands, and nobody writes it down: if nothing is played until the
others move or end, it was let ring until then, as long as it was heard for most of that time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from livecheck.drafting.line import Line

HEARD_SHARE, FADES_S = 0.6, 0.45
"""Of the time since it was picked or came to rest; and how much longer it may have rung."""


def let_ring(lines: Sequence[Line]) -> list[Line]:
    """In the same order."""
    return [replace(line, end_s=_until_s(line, lines)) for line in lines]


def _until_s(line: Line, lines: Sequence[Line]) -> float:
    beside = [other for other in lines if other is not line and other.start_s < line.end_s < other.end_s]
    if not beside:
        return line.end_s
    next_s = min([max(other.end_s for other in beside), *_events_s(lines, beside, line.end_s)])
    since_s = line.rests[-1].arrived_s
    fades = next_s - line.end_s <= min(FADES_S, (1.0 - HEARD_SHARE) * (next_s - since_s))
    return next_s if fades else line.end_s


def _events_s(lines: Sequence[Line], beside: Sequence[Line], after_s: float) -> Iterator[float]:
    """When, after a time, something is picked or one of some strings begins to move."""
    yield from (line.start_s for line in lines if line.start_s > after_s)
    for line in beside:
        yield from (max(rest.arrived_s - rest.over_s, after_s) for rest in line.rests[1:] if rest.arrived_s > after_s)
