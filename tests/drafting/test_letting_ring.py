"""Strings that fade one before the other."""

from __future__ import annotations

import pytest

from livecheck.drafting.letting_ring import FADES_S, let_ring
from livecheck.drafting.line import Line, Rest


def ends_s(*lines: Line) -> list[float]:
    return [line.end_s for line in let_ring(lines)]


def line(end_s: float, start_s: float = 1.0, *rests: Rest) -> Line:
    return Line(start_s, end_s, (Rest(60.0, start_s), *rests))


def test_a_string_that_fades_a_little_before_the_other_rings_as_long() -> None:
    assert ends_s(line(2.8), line(3.1)) == [3.1, 3.1]


def test_it_rings_until_the_other_begins_to_move() -> None:
    assert ends_s(line(2.8), line(4.0, 1.0, Rest(62.0, 3.2, 0.2))) == [pytest.approx(3.0), 4.0]


def test_it_rings_until_a_pick() -> None:
    assert ends_s(line(2.8), line(4.0), line(4.0, 3.0)) == [3.0, 4.0, 4.0]


@pytest.mark.parametrize("end_s", [3.1 - FADES_S - 0.01, 1.2])
def test_a_string_that_ends_long_before_was_silenced(end_s: float) -> None:
    assert ends_s(line(end_s), line(3.1)) == [end_s, 3.1]


def test_a_string_that_was_hardly_there_was_silenced() -> None:
    assert ends_s(line(1.3), line(1.6)) == [1.3, 1.6]
