"""What strings do between their picks, where the sound makes that hard to tell."""

from __future__ import annotations

import pytest

from livecheck.drafting.line import Line
from livecheck.drafting.take import lines_in_audio
from livecheck.sources.library import load_copedent
from tests.drafting.plucked import RATE_HZ, Knots, plucked

E9 = load_copedent("e9-ten-string")


def heard(strings: list[Knots], odd: float = 1.0, loss: float = 0.4, hiss: float = 1e-4) -> list[Line]:
    return lines_in_audio([plucked(strings, 5.0, odd, loss, hiss=hiss)], RATE_HZ, E9)


@pytest.mark.parametrize("odd", [0.1, 0.15, 0.25])
def test_a_string_with_strong_even_partials_is_no_octave_higher(odd: float) -> None:
    lines = heard([[(0.5, 58.0), (2.5, 58.0)], [(3.0, 57.0), (3.6, 57.0), (3.9, 60.0), (4.6, 60.0)]], odd=odd)
    told = [[rest.midi for rest in line.rests] for line in lines]
    assert told == [pytest.approx([58.0], abs=0.1), pytest.approx([57.0, 60.0], abs=0.1)]


def test_a_string_that_dies_away_rings_until_it_is_damped() -> None:
    """It loses 64 dB on the way."""
    (line,) = heard([[(0.5, 76.0), (3.5, 76.0)]], loss=2.2, hiss=1e-6)
    assert line.end_s == pytest.approx(3.5, abs=0.1)


@pytest.mark.parametrize("end_s", [1.5, 1.52, 1.54, 1.56])
def test_a_damped_string_ends_when_it_is_damped(end_s: float) -> None:
    (line,) = heard([[(0.5, 69.0), (end_s, 69.0)]])
    assert line.end_s == pytest.approx(end_s, abs=0.03)
    assert line.damped


def test_a_string_that_dies_away_was_not_damped() -> None:
    """It goes under in the hiss long before it is damped."""
    (line,) = heard([[(0.5, 76.0), (4.5, 76.0)]], loss=3.5, hiss=1e-4)
    assert line.end_s < 4.0
    assert not line.damped


def test_a_high_string_rings_on_through_a_pick_as_fast_as_it_dies_away() -> None:
    """It loses 9 dB in the quarter of a second in which it is looked at."""
    first, _ = heard([[(2.2, 79.0), (3.2, 79.0)], [(2.5, 82.0), (3.2, 82.0)]], loss=3.6, hiss=1e-6)
    assert first.end_s == pytest.approx(3.2, abs=0.1)


def test_two_strings_are_not_taken_to_lie_where_the_louder_one_is() -> None:
    """The bar takes both up four semitones, then a lever the softer one up by one more."""
    lower = [(0.5, 66.8), (1.2, 66.8), (1.5, 70.8), (4.0, 70.8)]
    upper = [(0.5, 69.8), (1.2, 69.8), (1.5, 73.8), (2.6, 73.8), (2.8, 74.8), (4.0, 74.8)]
    lines = lines_in_audio([plucked([lower, upper], 5.0, gains=(1.0, 0.4))], RATE_HZ, E9)
    told = [[rest.midi for rest in line.rests] for line in lines]
    assert told == [pytest.approx([66.8, 70.8], abs=0.1), pytest.approx([69.8, 73.8, 74.8], abs=0.1)]


@pytest.mark.parametrize("above", [12.0, 19.0])
def test_a_string_that_comes_to_hide_behind_another_is_followed_there(above: float) -> None:
    """The bar takes both down two semitones, a pedal takes the upper one up or down by another one."""
    lines = heard(
        [
            [(0.5, 58.0), (1.5, 58.0), (1.8, 56.0), (3.5, 56.0)],
            [(0.5, 57.0 + above), (1.5, 57.0 + above), (1.8, 56.0 + above), (3.5, 56.0 + above)],
        ]
    )
    assert [line.rests[-1].midi for line in lines] == pytest.approx([56.0, 56.0 + above], abs=0.1)
    assert [len(line.rests) for line in lines] == [2, 2]


def test_a_string_damped_by_a_pick_ends_there() -> None:
    strings: list[Knots] = [[(0.5, 71.0), (2.49, 71.0)], [(2.5, 66.0), (4.0, 66.0)]]
    first, _ = lines_in_audio([plucked(strings, 5.0, loss=1.0, gains=(0.3, 1.0))], RATE_HZ, E9)
    assert first.end_s == pytest.approx(2.5, abs=0.1)


@pytest.mark.parametrize(
    ("held", "loss"),
    [
        pytest.param([(2.1, 71.0), (3.5, 71.0)], 2.4, id="it dies away fast"),
        pytest.param([(1.5, 71.0), (2.67, 71.0), (2.73, 76.0), (3.5, 76.0)], 0.4, id="it moves off at once"),
    ],
)
def test_a_string_that_is_let_ring_through_a_pick_goes_on(held: Knots, loss: float) -> None:
    first, _ = heard([held, [(2.5, 66.0), (3.5, 66.0)]], loss=loss, hiss=1e-6)
    assert first.end_s == pytest.approx(3.5, abs=0.1)


def test_a_string_that_is_damped_and_struck_again_soon_after_another_does_not_ring_through() -> None:
    first, *_ = heard([[(0.5, 71.0), (2.47, 71.0)], [(2.5, 64.0), (3.5, 64.0)], [(2.63, 71.0), (3.5, 71.0)]])
    assert first.end_s == pytest.approx(2.5, abs=0.1)


def test_pedals_that_take_both_strings_are_followed_however_soft_one_is() -> None:
    """Two strings a fourth apart: the soft one, a fourth lower, would lie where the loud one is."""
    strings: list[Knots] = [[(0.5, low), (1.3, low), (2.0, low - 2.0), (3.5, low - 2.0)] for low in (71.0, 76.0)]
    sound = plucked(strings, 5.0, gains=(1.0, 0.3))
    lines = lines_in_audio([sound], RATE_HZ, E9)
    assert [[rest.midi for rest in line.rests] for line in lines] == [
        pytest.approx([71.0, 69.0], abs=0.1),
        pytest.approx([76.0, 74.0], abs=0.1),
    ]
    assert [line.rests[1].arrived_s for line in lines] == pytest.approx([2.0, 2.0], abs=0.04)


def test_a_string_that_pedals_take_to_where_it_hides_is_followed_there() -> None:
    """Two levers part them to an octave, and the bar takes both up from there."""
    lower = [(0.5, 73.0), (1.1, 73.0), (1.4, 71.0), (2.4, 71.0), (2.6, 73.0), (3.6, 73.0)]
    upper = [(0.5, 82.0), (1.1, 82.0), (1.4, 83.0), (2.4, 83.0), (2.6, 85.0), (3.6, 85.0)]
    found = [[rest.midi for rest in line.rests] for line in heard([lower, upper])]
    assert found == [pytest.approx([73.0, 71.0, 73.0], abs=0.2), pytest.approx([82.0, 83.0, 85.0], abs=0.2)]


def test_a_string_that_ends_on_its_way_did_not_arrive() -> None:
    (line,) = heard([[(0.5, 69.0), (2.0, 69.0), (2.3, 72.0), (2.33, 72.0)]])
    assert [rest.midi for rest in line.rests] == pytest.approx([69.0], abs=0.1)
    assert 1.9 < line.end_s < 2.35


@pytest.mark.parametrize("low", [55.0, 62.0, 69.0])
def test_an_octave_above_a_string_is_heard_in_what_they_share_if_the_hand_strikes_two_at_once(low: float) -> None:
    """The first three picks show two strings."""
    thirds: list[Knots] = [[(at, midi), (at + 0.6, midi)] for at in (0.2, 0.9, 1.6) for midi in (low, low + 4.0)]
    strings: list[Knots] = [[(at, low), (at + 0.8, low)] for at in (2.4, 3.3)]
    octaves: list[Knots] = [[(at_s, midi + 12.0) for at_s, midi in knots] for knots in strings]
    assert len(heard([*thirds, *strings, *octaves])) == 10
    assert len(heard([*thirds, *strings])) == 8
    assert len(heard(strings)) == 2
