"""The nearest places first, and what one move leads to."""

from __future__ import annotations

import pytest

from livecheck.lesson.figure import Bar
from livecheck.neck.chord import chord_name
from livecheck.neck.grips import parse_request
from livecheck.neck.neck import Neck
from livecheck.neck.onward import FURTHEST_SLIDE
from livecheck.neck.position import Position
from livecheck.neck.reach import Hold
from livecheck.neck.survey import onward, survey
from tests.neck.instruments import E9

NECK = Neck(E9)


def test_ordered_by_movement_from_where_one_is() -> None:
    start = Position((1,), Bar.straight(8.0), Hold.full("A"))
    places = survey(NECK, parse_request("C"), 3, start)
    moved = [place.movement_frets for place in places]
    assert moved == sorted(moved)
    assert (places[0].bar, places[0].hold.names, places[0].movement_frets) == (start.bar, (), 1.0)
    for place in places:
        feet = len(set(place.hold.names) ^ {"A"})
        assert place.movement_frets == abs(place.bar.fret_at(1) - 8.0) + feet


def test_without_a_start_from_the_open_strings() -> None:
    first = survey(NECK, parse_request("E"), 3)[0]
    assert (first.bar.fret_at(1), first.hold.names, first.movement_frets) == (0.0, (), 0.0)


def test_one_squeeze() -> None:
    """From C at fret 8: A makes A minor, A and B F, the lever that lowers E E minor (common practice, no source)."""
    at = Position((4, 5, 6), Bar.straight(8.0))
    leads = {(s.change, s.pressed): chord_name(s.position.midis(E9)) for s in onward(NECK, at, []).squeezes}
    assert leads[("A", True)] == "Am"
    assert leads[("LKR", True)] == "Em"
    pressed = Position((4, 5, 6), Bar.straight(8.0), Hold.full("A", "B"))
    leads = {(s.change, s.pressed): chord_name(s.position.midis(E9)) for s in onward(NECK, pressed, []).squeezes}
    assert leads[("B", False)] == "Am"
    assert ("C", True) not in leads, "no foot is on three pedals"
    assert ("RKR", True) not in leads, "no string of these feels it"


def test_one_slide() -> None:
    at = Position((4, 5, 6), Bar.straight(8.0))
    places = survey(NECK, parse_request("C"), 3)
    leads = onward(NECK, at, places)
    assert {frets: chord_name(p.midis(E9)) for frets, p in leads.shifted} == {-2: "A#", 2: "D", 5: "F", 7: "G"}
    assert {(p.bar.fret_at(1), p.hold.names) for p in leads.further} == {(3.0, ("A", "B")), (11.0, ("A", "LKL"))}
    for further in leads.further:
        assert sorted(further.strings) == [4, 5, 6]
        assert abs(further.bar.fret_at(1) - 8.0) <= FURTHEST_SLIDE


@pytest.mark.parametrize("fret", [0.0, 1.0, 23.0])
def test_a_slide_stays_on_the_neck_and_never_begins_on_open_strings(fret: float) -> None:
    leads = onward(NECK, Position((4, 5, 6), Bar.straight(fret)), survey(NECK, parse_request("E"), 3))
    assert all(1.0 <= p.bar.fret_at(1) <= 24.0 for _, p in leads.shifted)
    assert fret != 0.0 or not (leads.shifted or leads.further)
