"""Where the bar lies, and what pitch a string has in a stance."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.lesson.figure import Bar, Stance
from tests.lesson.written import steel

frets = st.floats(0.0, 24.0)


def test_a_straight_bar_is_at_one_fret_over_all_strings() -> None:
    assert [Bar.straight(7.0).fret_at(string) for string in (1, 5, 10)] == [7.0, 7.0, 7.0]


def test_strings_between_and_beyond_follow_the_line_of_a_slanted_bar() -> None:
    bar = Bar.slanted({6: 4.0, 4: 3.0})
    assert [bar.fret_at(string) for string in (2, 3, 4, 5, 6, 8)] == [2.0, 2.5, 3.0, 3.5, 4.0, 5.0]
    assert not bar.is_straight


def test_three_frets_make_two_lines() -> None:
    bar = Bar.slanted({2: 3.0, 4: 5.0, 6: 6.0})
    assert [bar.fret_at(string) for string in (1, 2, 3, 4, 5, 6, 7)] == [2.0, 3.0, 4.0, 5.0, 5.5, 6.0, 6.5]


def test_a_slant_of_equal_frets_is_a_straight_bar() -> None:
    assert Bar.slanted({5: 3.0, 6: 3.0}) == Bar.slanted({8: 3.0}) == Bar.straight(3.0)
    assert Bar.slanted({5: 3.0, 6: 3.0}).is_straight


@given(st.dictionaries(st.integers(1, 10), frets, min_size=1))
def test_a_bar_touches_the_frets_that_are_given(given_frets: dict[int, float]) -> None:
    bar = Bar.slanted(given_frets)
    for string, fret in given_frets.items():
        assert bar.fret_at(string) == pytest.approx(fret)


@given(frets, frets, st.integers(1, 10))
def test_a_slanted_bar_is_a_straight_line(one: float, other: float, string: int) -> None:
    bar = Bar.slanted({4: one, 7: other})
    slope = (other - one) / 3.0
    assert bar.fret_at(string) == pytest.approx(one + slope * (string - 4), abs=1e-9)


def test_bar_changes_and_pull_add() -> None:
    stance = Stance(Bar.straight(3.0), {"P": 0.5, "L": 1.0}, {1: 0.25})
    assert stance.midi(1, steel()) == pytest.approx(71.0 + 3.0 + 1.0 - 1.0 + 0.25)
    assert stance.midi(2, steel()) == pytest.approx(68.0 + 3.0)
    assert stance.midi(3, steel()) == pytest.approx(64.0 + 3.0 - 1.0)
