"""Where one move leads from a position, under the same pick: one pedal or lever squeezed or let go, or the bar slid.

In: a position. Out: positions on the same strings.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from livecheck.neck.neck import Neck
from livecheck.neck.position import Position
from livecheck.neck.reach import Hold

FURTHEST_SLIDE = 7
"""Frets: up to a fifth the strings still ring well at the end of a slide (common practice, no source)."""


@dataclass(frozen=True)
class Squeeze:
    """One pedal or lever pressed, or let go."""

    change: str
    pressed: bool
    position: Position


def squeezes(neck: Neck, position: Position) -> Iterator[Squeeze]:
    """What each single pedal or lever does here that hands and feet can reach and the strings feel."""
    held, sounding = set(position.hold.names), neck.midis(position)
    order = list(neck.copedent.changes)
    for change in order:
        names = held ^ {change}
        moved = replace(position, hold=Hold.full(*sorted(names, key=order.index)))
        if moved.hold in neck.holds and neck.midis(moved) != sounding:
            yield Squeeze(change, change in names, moved)


def slides(position: Position, others: Iterable[Position]) -> list[Position]:
    """Those of other positions that the bar can reach while the strings ring, pedals and levers moving with it as they
    must; the nearest first."""
    strings = sorted(position.strings)
    reached = [
        other
        for other in others
        if sorted(other.strings) == strings
        and other.bar != position.bar
        and other.is_open == position.is_open
        and abs(other.ends[0] - position.ends[0]) <= FURTHEST_SLIDE
    ]
    return sorted(reached, key=lambda other: (abs(other.ends[0] - position.ends[0]), other.hold.changed(position.hold)))
