"""Durations as written notes, against a library of notation that is not ours (music21)."""

from __future__ import annotations

from fractions import Fraction

import pytest
from music21 import duration

from livecheck.sharing.note_values import note_values


@pytest.mark.parametrize("quarters", [Fraction(n, 16) for n in range(1, 81)] + [Fraction(n, 12) for n in range(1, 40)])
def test_they_last_as_long(quarters: Fraction) -> None:
    values = note_values(quarters)
    assert sum(value.quarters for value in values) == quarters
    for value in values:
        if value.name is None:
            assert quarters.denominator % 3 == 0, "every binary duration can be written"
            continue
        theirs = duration.Duration(value.name, dots=int(value.dotted))
        if value.triplet:
            theirs.appendTuplet(duration.Tuplet(3, 2))
        assert Fraction(theirs.quarterLength) == value.quarters


def test_one_note_where_one_will_do() -> None:
    assert [value.name for value in note_values(Fraction(3))] == ["half"]
    assert [(value.name, value.triplet) for value in note_values(Fraction(2, 3))] == [("quarter", True)]
    assert [value.name for value in note_values(Fraction(5, 4))] == ["quarter", "16th"]
    assert note_values(Fraction(0)) == []
    assert note_values(Fraction(7, 10))[0].name is None
