"""Requests, and the grips for them, against everything tried on a small instrument."""

from __future__ import annotations

from itertools import combinations

import pytest

from livecheck.neck.chord import parse_chord
from livecheck.neck.grips import Request, grips, parse_request
from livecheck.neck.neck import HIGHEST_FRET, Neck
from livecheck.neck.reach import Hold
from tests.neck.instruments import E9, LAP, SMALL


@pytest.mark.parametrize(
    ("text", "midis"), [("C4 E4 A4", (60.0, 64.0, 69.0)), ("Bb3,  c5", (58.0, 72.0)), ("C4", (60.0,)), ("C5", (72.0,))]
)
def test_exact_notes(text: str, midis: tuple[float, ...]) -> None:
    request = parse_request(text)
    assert (request.midis, request.chord, request.strings_asked) == (midis, None, len(midis))


@pytest.mark.parametrize(("text", "count"), [("Am", 3), ("C7", 3), ("C6", 3), ("F#maj7", 3), ("C E", 2), ("C E A", 3)])
def test_chords_and_tones(text: str, count: int) -> None:
    request = parse_request(text)
    assert request.midis == ()
    assert request.chord is not None
    assert request.strings_asked == count


@pytest.mark.parametrize("text", ["", " ", "H4", "C4 E", "C E4", "C99", "Am C4", "C H", "C4 E44"])
def test_what_is_no_request(text: str) -> None:
    with pytest.raises(ValueError, match=r"is no chord|is no note|no note is given"):
        parse_request(text)


def test_flats_are_for_those_who_ask_in_flats() -> None:
    assert parse_request("Bb").has_flats
    assert not parse_request("F#maj7").has_flats
    assert not parse_request("C7b9").has_flats


@pytest.mark.parametrize("name", ["C", "Am", "G7", "F/A", "Bm7b5"])
def test_nothing_is_left_out_and_nothing_is_wrong(name: str) -> None:
    chord = parse_chord(name)
    neck = Neck(SMALL)
    found = {(p.strings, p.bar.fret_at(1), p.hold) for p in grips(neck, Request(name, chord=chord), 3)}
    wanted = set()
    for hold in neck.holds:
        opened = neck.open_midis(hold)
        for fret in range(HIGHEST_FRET + 1):
            for strings in combinations(range(1, 5), 3):
                midis = sorted(opened[s] + fret for s in strings)
                tones = {int(midi) % 12 for midi in midis}
                useless = [n for n in hold.names if not any(s in SMALL.changes[n] for s in strings)]
                fits = chord.needed(3) <= tones <= set(chord.tones) and chord.bass in (None, int(midis[0]) % 12)
                if fits and not useless:
                    wanted.add((strings, float(fret), hold))
    assert found == wanted
    assert found or name == "F/A"


def test_on_some_strings() -> None:
    request = parse_request("C")
    assert {p.strings for p in grips(Neck(E9), request, 3, strings=(4, 5, 6))} == {(4, 5, 6)}
    assert {p.strings for p in grips(Neck(E9), request, 2, strings=(5, 6))} == {(5, 6)}


def test_slants_where_there_are_no_pedals() -> None:
    """A7 needs C sharp, E or G, A: from the C6 strings 1 to 3 only with a slanted bar, or not at all."""
    found = list(grips(Neck(LAP), parse_request("C"), 3))
    assert {p.bar.is_straight for p in found} == {True, False}
    for position in found:
        assert {round(midi) % 12 for midi in position.midis(LAP)} == {0, 4, 7}
        assert all(position.bar.fret_at(s).is_integer() for s in position.strings)
        assert position.hold == Hold()
