"""How long something lasts, as written notes: quarters to note values with dots and triplets.

Convention: durations are fractions of a quarter note.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

_NAMES = ("whole", "half", "quarter", "eighth", "16th", "32nd", "64th")


@dataclass(frozen=True)
class NoteValue:
    """One written note, to be tied to the next where it takes several."""

    quarters: Fraction
    name: str | None = None
    """As MusicXML names it; None where no note lasts so long."""
    dotted: bool = False
    triplet: bool = False


def _plain() -> Iterator[NoteValue]:
    for power, name in enumerate(_NAMES):
        quarters = Fraction(4, 2**power)
        yield NoteValue(quarters * 3 / 2, name, dotted=True)
        yield NoteValue(quarters, name)


_PLAIN = {value.quarters: value for value in _plain()}
"""The longest first."""
_TRIPLETS = {
    value.quarters * Fraction(2, 3): NoteValue(value.quarters * Fraction(2, 3), value.name, triplet=True)
    for value in _PLAIN.values()
    if not value.dotted
}


def note_values(quarters: Fraction) -> list[NoteValue]:
    """The fewest notes, nearly, that last so long; one without a name where no notes do."""
    if quarters <= 0:
        return []
    for value in (_PLAIN.get(quarters), _TRIPLETS.get(quarters)):
        if value is not None:
            return [value]
    if quarters.denominator & (quarters.denominator - 1) == 0 and quarters.denominator <= 16:
        longest = next(value for value in _PLAIN.values() if value.quarters <= quarters)
        return [longest, *note_values(quarters - longest.quarters)]
    for value in _PLAIN.values():
        if quarters - value.quarters in _TRIPLETS:
            return [value, _TRIPLETS[quarters - value.quarters]]
    return [NoteValue(quarters)]
