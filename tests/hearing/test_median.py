"""The middle of a few numbers is the one that numpy gives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.hearing.median import median, medians, nearest_middle

NUMBERS = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40)


@given(NUMBERS)
def test_it_is_what_numpy_calls_the_median(numbers: list[float]) -> None:
    assert median(np.array(numbers)) == pytest.approx(float(np.median(numbers)), rel=1e-12, abs=1e-300)


def test_of_an_even_count_it_is_the_mean_of_the_two_in_the_middle() -> None:
    assert median(np.array([4.0, 1.0, 10.0, 2.0])) == 3.0


@given(st.integers(1, 6), st.integers(0, 1 << 32))
def test_of_rows_it_is_that_of_each_column(rows: int, seed: int) -> None:
    numbers = np.random.default_rng(seed).normal(size=(rows, 5))
    assert medians(numbers) == pytest.approx(np.median(numbers, axis=0), rel=1e-12)


def test_what_is_given_stays_in_its_order() -> None:
    numbers = np.array([3.0, 1.0, 2.0])
    assert median(numbers) == 2.0
    assert numbers.tolist() == [3.0, 1.0, 2.0]


def test_the_middle_row_that_is_there_tells_and_of_two_the_one_nearer_to_nothing() -> None:
    rows = np.array([[1.0, -3.0, np.nan, np.nan], [5.0, 2.0, np.nan, 4.0], [2.0, np.nan, np.nan, -4.5]])
    assert nearest_middle(rows).tolist() == [2.0, 2.0, 0.0, 4.0]
    assert nearest_middle(rows[::-1]).tolist() == [2.0, 2.0, 0.0, 4.0]
    assert nearest_middle(rows[:1]).tolist() == [1.0, -3.0, 0.0, 0.0]
