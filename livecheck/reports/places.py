"""Places on the neck, to read at the instrument or by other programs.

In: places in their order. Out: text of 80 columns, or what is written as JSON.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import Any

from livecheck.lesson.figure import Bar
from livecheck.neck.chord import chord_name, note_names
from livecheck.neck.grips import Request
from livecheck.neck.neck import Neck
from livecheck.neck.position import Position
from livecheck.neck.reach import Hold
from livecheck.neck.survey import Place, onward
from livecheck.reports.packed import packed_lines
from livecheck.reports.wording import counted, fret_text, plain

COLUMNS = 80
_INDENT = " " * 8


def places_text(request: Request, neck: Neck, places: Sequence[Place], most: int, start: Position | None) -> str:
    """The first of the places, with where one move leads from each."""
    near = "the open strings" if start is None else _where(start.bar, start.hold)
    said = f"{plain(request.text)}: {counted(len(places), 'place')} on {plain(neck.copedent.name)}; nearest to {near}:"
    lines = textwrap.wrap(said, COLUMNS)
    for number, place in enumerate(places[:most], start=1):
        lines += ["", *_place(number, place, neck, places, request.has_flats)]
    if len(places) > most:
        lines += ["", f"{counted(len(places) - most, 'place')} more; --most {len(places)} tells all"]
    return "\n".join(lines) + "\n"


def places_document(request: Request, neck: Neck, places: Sequence[Place]) -> dict[str, Any]:
    """All places, as JSON has them."""

    def position(position: Position) -> dict[str, Any]:
        bar, midis = position.bar, position.midis(neck.copedent)
        return {
            **({"fret": bar.frets[0][1]} if bar.is_straight else {"slant": dict(bar.frets)}),
            "down": list(position.hold.names),
            "strings": list(position.strings),
            "notes": note_names(midis, request.has_flats).split(),
            "chord": chord_name(midis, request.has_flats),
        }

    def grip(grip: Position, movement_frets: float) -> dict[str, Any]:
        leads = onward(neck, grip, places)
        return {
            **position(grip),
            "movement_frets": movement_frets,
            "squeezes": [{"change": s.change, "pressed": s.pressed, **position(s.position)} for s in leads.squeezes],
            "slides": [position(slid) for slid in (*(slid for _, slid in leads.shifted), *leads.further)],
        }

    return {
        "format": 1,
        "asked": request.text,
        "copedent": neck.copedent.name,
        "positions": [grip(position, place.movement_frets) for place in places for position in place.grips],
    }


def _place(number: int, place: Place, neck: Neck, places: Sequence[Place], flats: bool) -> Iterator[str]:
    first, *others = place.grips
    leads = onward(neck, first, places)
    away = "here" if place.movement_frets == 0 else f"moves {fret_text(place.movement_frets)}"
    where = f"{number:>4}. {_where(place.bar, place.hold)}"
    yield f"{where:<32}{_grip(first, neck, flats):<36}{away}"
    yield from _row("also", [_grip(grip, neck, flats) for grip in others])
    yield from _row(
        "squeeze",
        [
            f"{'press' if s.pressed else 'let go'} {plain(s.change)}: {_sound(s.position, neck, flats)}"
            for s in leads.squeezes
        ],
    )
    slid = [f"{'up' if frets > 0 else 'down'} {abs(frets)}: {_sound(p, neck, flats)}" for frets, p in leads.shifted]
    slid += [f"to {_where(p.bar, p.hold)}: {_notes(p, neck, flats)}" for p in leads.further]
    yield from _row("slide", slid)


def _grip(position: Position, neck: Neck, flats: bool) -> str:
    """Strings and notes, the nearest string first."""
    noun = "string" if len(position.strings) == 1 else "strings"
    return f"{noun} {' '.join(map(str, sorted(position.strings, reverse=True)))}: {_notes(position, neck, flats)}"


def _notes(position: Position, neck: Neck, flats: bool) -> str:
    ordered = tuple(sorted(position.strings, reverse=True))
    return note_names(Position(ordered, position.bar, position.hold).midis(neck.copedent), flats)


def _where(bar: Bar, hold: Hold) -> str:
    if bar.is_straight:
        fret = bar.frets[0][1]
        where = f"fret {fret_text(fret)}" if fret else "open"
    else:
        where = "slant " + " ".join(f"{string}={fret_text(fret)}" for string, fret in bar.frets)
    return f"{where} with {' '.join(map(plain, hold.names))}" if hold.levels else where


def _sound(position: Position, neck: Neck, flats: bool) -> str:
    """A chord's name where it has one, else the notes."""
    return chord_name(position.midis(neck.copedent), flats) or _notes(position, neck, flats)


def _row(name: str, entries: Sequence[str]) -> Iterator[str]:
    lead = f"{_INDENT}{name:<9}"
    return packed_lines(lead, entries, COLUMNS, len(lead)) if entries else iter(())
