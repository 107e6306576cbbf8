"""Delay times: how long a note value lasts at a tempo, for the player's own delay unit.

In: beats a minute and a meter such as "6/8", whose second number is the note value of a beat. Out: milliseconds.
A minute has 60 000 of them; the rest is arithmetic.
"""

from __future__ import annotations

from fractions import Fraction

MINUTE_MS = 60_000.0
NOTE_VALUES = {
    "quarter": Fraction(1, 4),
    "dotted eighth": Fraction(3, 16),
    "quarter triplet": Fraction(1, 6),
    "eighth": Fraction(1, 8),
    "eighth triplet": Fraction(1, 12),
    "sixteenth": Fraction(1, 16),
}
"""Parts of a whole note, the longest first: those that delay units are commonly set to (common practice, no source)."""


def delay_times_ms(tempo: float, meter: str) -> dict[str, float]:
    """Note value -> milliseconds, the longest first."""
    beats_to_whole = int(meter.partition("/")[2])
    return {name: MINUTE_MS / tempo * float(part * beats_to_whole) for name, part in NOTE_VALUES.items()}
