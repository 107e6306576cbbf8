"""The middle of a few numbers is the one that numpy gives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.hearing.median import least_middle, median

NUMBERS = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40)


@given(NUMBERS)
def test_it_is_what_numpy_calls_the_median(numbers: list[float]) -> None:
    assert median(np.array(numbers)) == pytest.approx(float(np.median(numbers)), rel=1e-12, abs=1e-300)


def test_of_an_even_count_it_is_the_mean_of_the_two_in_the_middle() -> None:
    assert median(np.array([4.0, 1.0, 10.0, 2.0])) == 3.0


def test_the_middle_of_each_column_is_the_one_nearer_to_nothing_of_two_and_what_is_unknown_does_not_count() -> None:
    unknown = float("nan")
    rows = np.array([[1.0, 4.0, unknown, -2.0], [3.0, -3.0, unknown, 5.0], [2.0, unknown, unknown, -1.0]])
    assert least_middle(rows).tolist() == [2.0, -3.0, 0.0, -1.0]
