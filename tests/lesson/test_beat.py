"""Beats are read as exact fractions."""

from __future__ import annotations

from contextlib import suppress
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.lesson.beat import beat_text, parse_beat


@pytest.mark.parametrize(
    ("written", "beat"),
    [
        (4, Fraction(4)),
        (4.5, Fraction(9, 2)),
        ("9/2", Fraction(9, 2)),
        ("4 1/2", Fraction(9, 2)),
        ("4.5", Fraction(9, 2)),
        (" 4  1 / 2 ", Fraction(9, 2)),
        ("7", Fraction(7)),
        (0.1, Fraction(1, 10)),
        (2.3333333, Fraction(7, 3)),
        (0, Fraction(0)),
        (-1, Fraction(-1)),
    ],
)
def test_ways_to_write_a_beat(written: float | str, beat: Fraction) -> None:
    assert parse_beat(written) == beat


@pytest.mark.parametrize(
    "written",
    [
        "", "four", "4 1", "1/0", "2 1/0", "1e9", "1e999999999", "nan", "inf", "-1", "1_0", "4 1/2 x",
        "9" * 5000, "1/" + "9" * 5000, float("nan"), float("inf"), float("-inf"), 10**400, 1e300,
    ],
)  # fmt: skip
def test_what_is_no_beat(written: float | str) -> None:
    with pytest.raises(ValueError, match=r"beat|zero|finite|beyond"):
        parse_beat(written)


@given(st.integers(0, 999), st.integers(1, 99), st.integers(1, 99))
def test_a_mixed_number_is_its_whole_and_its_part(whole: int, over: int, under: int) -> None:
    assert parse_beat(f"{whole} {over}/{under}") == whole + Fraction(over, under)


@given(st.fractions(1, 1000, max_denominator=16))
def test_what_is_shown_can_be_read_again(beat: Fraction) -> None:
    assert parse_beat(beat_text(beat)) == beat


@given(st.text())
def test_any_text_is_a_beat_or_a_value_error(written: str) -> None:
    with suppress(ValueError):
        assert parse_beat(written) >= 0


@pytest.mark.parametrize(
    ("beat", "text"), [(Fraction(1, 3), "1/3"), (Fraction(9, 2), "4 1/2"), (Fraction(103, 100), "1.03")]
)
def test_beats_as_a_player_reads_them(beat: Fraction, text: str) -> None:
    assert beat_text(beat) == text
