"""Lines whose tracks were captured by another string's partials."""

from __future__ import annotations

import pytest

from livecheck.drafting.leaps import LEAP_S, without_leaps
from livecheck.drafting.line import Line, Rest

LEAP, GLIDE = 0.5 * LEAP_S, 0.2


def line(*rests: Rest) -> Line:
    return Line(1.0, 4.0, (Rest(64.0, 1.0), *rests))


def told(lines: list[Line]) -> list[tuple[list[float], float]]:
    return [([rest.midi for rest in one.rests], one.end_s) for one in lines]


def test_a_string_that_leaps_and_does_not_come_back_ended_there() -> None:
    assert told(without_leaps([line(Rest(59.0, 3.0, LEAP))])) == [([64.0], 3.0)]


def test_a_string_that_comes_back_from_a_leap_was_there_all_the_time() -> None:
    assert told(without_leaps([line(Rest(66.0, 2.0, LEAP), Rest(64.1, 3.0, LEAP))])) == [([64.0], 4.0)]


def test_a_glide_after_a_leap_still_counts() -> None:
    assert told(without_leaps([line(Rest(64.7, 2.0, LEAP), Rest(67.0, 3.0, GLIDE))])) == [([64.0, 67.0], 4.0)]


@pytest.mark.parametrize("over_s", [LEAP, GLIDE])
def test_what_another_string_does_too_was_done_by_the_bar(over_s: float) -> None:
    lines = [line(Rest(65.0, 2.0, LEAP)), line(Rest(65.0, 2.04, over_s))]
    assert told(without_leaps(lines)) == [([64.0, 65.0], 4.0)] * 2


def test_a_string_that_goes_the_other_way_does_not_excuse_a_leap() -> None:
    captured, moved = without_leaps([line(Rest(66.0, 2.0, LEAP)), line(Rest(62.0, 2.0, GLIDE))])
    assert told([captured, moved]) == [([64.0], 2.0), ([64.0, 62.0], 4.0)]


def test_a_leap_beside_a_move_is_none_if_it_is_taken_back_alone() -> None:
    there = Rest(66.0, 2.0, LEAP), Rest(64.0, 3.0, LEAP)
    captured, moved = without_leaps([line(*there), line(Rest(66.0, 2.0, GLIDE))])
    assert told([captured, moved]) == [([64.0], 4.0), ([64.0, 66.0], 4.0)]
