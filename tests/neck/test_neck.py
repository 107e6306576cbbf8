"""Where notes lie on the neck. The places of the E9 are common practice, no source; the rest is arithmetic."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.lesson.figure import Bar, Stance
from livecheck.lesson.pitch import parse_name
from livecheck.neck.neck import FIT_CENTS, HIGHEST_FRET, Neck
from livecheck.neck.position import Position, movement_frets
from livecheck.neck.reach import Hold
from tests.neck.instruments import E9, JUST, LAP, SMALL


def midis(names: str) -> list[float]:
    return [parse_name(name) for name in names.split()]


def places(neck: Neck, names: str) -> set[tuple[tuple[int, ...], float, tuple[str, ...]]]:
    return {(p.strings, p.bar.fret_at(1), p.hold.names) for p in neck.positions(midis(names))}


@pytest.mark.parametrize(
    ("notes", "strings", "fret", "down"),
    [
        ("C5 G4 E4", (4, 5, 6), 8, ""),
        ("E4 C4 G3", (5, 6, 8), 3, "A B"),
        ("C5 G4 E4", (5, 6, 8), 11, "A LKL"),
        ("D4 A3 F#3", (5, 7, 8), 3, "LKR"),
        ("C5 A4 F4", (4, 5, 6), 8, "A B"),
    ],
)
def test_chords_of_the_pedal_steel(notes: str, strings: tuple[int, ...], fret: int, down: str) -> None:
    """C at fret 8 with nothing, at 3 with A and B, at 11 with A and the lever that raises E; IV and V beside them."""
    assert (strings, float(fret), tuple(down.split())) in places(Neck(E9), notes)


TABLE = [
    (hold.names, fret, {s: Stance(Bar.straight(float(fret)), hold.down).midi(s, SMALL) for s in range(1, 5)})
    for hold in Neck(SMALL).holds
    for fret in range(HIGHEST_FRET + 1)
]


def brute(notes: list[float]) -> set[tuple[tuple[int, ...], float, tuple[str, ...]]]:
    """Everything tried, on the small instrument."""
    return {
        (strings, float(fret), names)
        for names, fret, midis in TABLE
        for strings in permutations(midis, len(notes))
        if [midis[string] for string in strings] == notes
    }


@settings(deadline=None)
@given(st.lists(st.integers(54, 92).map(float), min_size=1, max_size=4))
def test_nothing_is_left_out_and_nothing_is_wrong(notes: list[float]) -> None:
    found = [(p.strings, p.bar.fret_at(1), p.hold.names) for p in Neck(SMALL).all_positions(notes)]
    assert set(found) == brute(notes)
    assert len(set(found)) == len(found)


def test_no_pedal_that_could_be_let_go() -> None:
    neck = Neck(E9)
    assert all(neck.needs_all(position) for position in neck.positions([64.0]))
    assert any(not neck.needs_all(position) for position in neck.all_positions([64.0]))
    assert not neck.needs_all(Position((8,), Bar.straight(3.0), Hold.full("A")))


def test_tempered_strings_have_the_notes_that_they_are_named_for() -> None:
    equal, just = (places(Neck(copedent), "E4 C4 G3") for copedent in (E9, JUST))
    assert equal == just
    worst = max(
        abs(midi - note) for p in Neck(JUST).positions(midis("E4 C4 G3"))
        for midi, note in zip(p.midis(JUST), midis("E4 C4 G3"), strict=True)
    )  # fmt: skip
    assert 0.1 < worst <= FIT_CENTS / 100.0


def test_on_some_strings_only() -> None:
    neck = Neck(E9)
    some = set(neck.positions(midis("E4 C4"), strings=(5, 6)))
    assert some == {p for p in neck.positions(midis("E4 C4")) if set(p.strings) <= {5, 6}}
    assert some


def test_more_notes_than_strings_and_no_notes() -> None:
    assert not list(Neck(SMALL).positions([60.0] * 5))
    assert not list(Neck(SMALL).positions([]))


def test_a_slanted_bar_where_there_are_no_pedals() -> None:
    """C6: strings 2 and 3 are C4 and A3; E4 and C#4 need the bar at 4 on both, F4 and C4 at 5 and 3."""
    found = [p for p in Neck(LAP).positions(midis("F4 C4")) if p.strings == (2, 3)]
    assert found == []
    found = [p for p in Neck(LAP).positions(midis("E4 C4")) if p.strings == (2, 3)]
    assert [p.bar for p in found] == [Bar.slanted({2: 4.0, 3: 3.0})]
    assert not any(p.bar.is_straight is False for p in Neck(E9).positions(midis("E4 C4")))


def test_slants_of_three_strings_lie_on_a_line() -> None:
    """E4, C4 and A3 on strings 1 to 3: G4, E4 and D4 are frets 3, 4 and 5, on a line; C#4 would be at 4."""
    (found,) = [p for p in Neck(LAP).positions(midis("G4 E4 D4")) if p.strings == (1, 2, 3)]
    assert [found.bar.fret_at(s) for s in (1, 2, 3)] == [3.0, 4.0, 5.0]
    assert not [p for p in Neck(LAP).positions(midis("G4 E4 C#4")) if p.strings == (1, 2, 3)]


def test_movement() -> None:
    one = Position((4, 5), Bar.straight(3.0), Hold.full("A", "B"))
    other = Position((5, 6), Bar.straight(8.0), Hold.full("A"))
    assert movement_frets(one, other) == 5.0 + 1.0 + 0.25
    assert movement_frets(one, one) == 0.0
    slanted = Position((4, 5), Bar.slanted({4: 3.0, 5: 4.0}), Hold.full("A", "B"))
    assert movement_frets(one, slanted) == movement_frets(slanted, one) == 1.0
