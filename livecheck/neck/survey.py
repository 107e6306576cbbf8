"""All places for a request, the nearest first, each with where one squeeze or one slide leads from there.

In: a neck, a request, where hands and feet are. Out: `Place`s, in order of movement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from livecheck.lesson.figure import Bar
from livecheck.neck.grips import Request, grips
from livecheck.neck.neck import HIGHEST_FRET, Neck
from livecheck.neck.onward import Squeeze, slides, squeezes
from livecheck.neck.position import Position, movement_frets
from livecheck.neck.reach import Hold

SLIDES_FRETS = (-2, 2, 5, 7)
"""A tone either way, and the chords IV and V of the one that is left."""
MOST_FURTHER = 2
"""Slides to other places of the same chord; further ones are no one move any more."""


@dataclass(frozen=True)
class Onward:
    """What one move leads to from a position, under the same pick."""

    squeezes: tuple[Squeeze, ...]
    shifted: tuple[tuple[int, Position], ...]
    """(frets, the position): the bar alone is slid."""
    further: tuple[Position, ...]
    """Another voicing of what was asked for, on the same strings: bar and pedals or levers move."""


@dataclass(frozen=True)
class Place:
    """Bar, pedals and levers, and the strings that are right with them."""

    bar: Bar
    hold: Hold
    movement_frets: float
    grips: tuple[Position, ...]
    """The narrowest first."""


def survey(
    neck: Neck, request: Request, count: int, start: Position | None = None, strings: Sequence[int] | None = None
) -> list[Place]:
    """Every place, the nearest to `start` first; None: the bar at the nut, nothing held. Its strings do not count."""
    by_place: dict[tuple[Bar, Hold], list[Position]] = {}
    for position in grips(neck, request, count, strings):
        by_place.setdefault((position.bar, position.hold), []).append(position)
    places = [
        Place(bar, hold, _away(found[0], start), tuple(sorted(found, key=_width)))
        for (bar, hold), found in by_place.items()
    ]
    return sorted(places, key=lambda place: (place.movement_frets, neck.effort(place.grips[0])))


def onward(neck: Neck, position: Position, places: Sequence[Place]) -> Onward:
    """Where one move leads from a position, other places of the same request being known."""
    shifted = tuple((frets, p) for frets in SLIDES_FRETS if (p := _shifted(position, frets)) is not None)
    others = slides(position, (grip for place in places for grip in place.grips))
    by_pitches = {_pitches(neck, position): position}
    for other in others:
        by_pitches.setdefault(_pitches(neck, other), other)
    _, *further = by_pitches.values()
    return Onward(tuple(squeezes(neck, position)), shifted, tuple(further[:MOST_FURTHER]))


def _away(position: Position, start: Position | None) -> float:
    bar, hold = (Bar.straight(0.0), Hold()) if start is None else (start.bar, start.hold)
    return movement_frets(Position(position.strings, bar, hold), position)


def _width(position: Position) -> tuple[int, list[int]]:
    return max(position.strings) - min(position.strings), sorted(position.strings)


def _shifted(position: Position, frets: int) -> Position | None:
    """The same further up or down; None where a bar cannot go from here."""
    bar = Bar(tuple((string, fret + frets) for string, fret in position.bar.frets))
    within = all(1 <= fret <= HIGHEST_FRET for _, fret in bar.frets)
    return Position(position.strings, bar, position.hold) if within and not position.is_open else None


def _pitches(neck: Neck, position: Position) -> tuple[float, ...]:
    return tuple(sorted(neck.midis(position)))
