"""Resampling: a sine comes out as the same sine on another grid, and nothing from above the new range is left."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from livecheck.hearing.sound.resample import WORK_RATE_HZ, Resampler

RATES_HZ = [8000, 11_025, 22_050, 32_000, 44_100, 48_000, 96_000, 192_000]
EDGE_S = 0.05
"""The filter hears the sudden start and end of a sine so far."""


def _sine(hz: float, rate_hz: int, duration_s: float = 1.0) -> NDArray[np.float32]:
    return np.sin(2.0 * np.pi * hz * np.arange(round(duration_s * rate_hz)) / rate_hz).astype(np.float32)


def _resampled(samples: NDArray[np.float32], rate_hz: int) -> NDArray[np.float32]:
    resampler = Resampler(rate_hz)
    return np.concatenate((resampler.feed(samples), resampler.finish()))


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("hz", [82.4, 987.8, 3500.0])
def test_a_sine_stays_that_sine(rate_hz: int, hz: float) -> None:
    out, wanted = _resampled(_sine(hz, rate_hz), rate_hz), _sine(hz, WORK_RATE_HZ)
    inside = slice(round(EDGE_S * WORK_RATE_HZ), round((1.0 - EDGE_S) * WORK_RATE_HZ))
    assert np.abs(out[inside] - wanted[inside]).max() < 1e-3


@pytest.mark.parametrize("rate_hz", [32_000, 44_100, 48_000, 96_000, 192_000])
def test_what_lies_above_the_range_does_not_fold_back(rate_hz: int) -> None:
    """A sine of 13 kHz cannot be told at 24 kHz; folded back it would be one of 11 kHz."""
    out = _resampled(_sine(13_000.0, rate_hz), rate_hz)
    assert np.abs(out[round(EDGE_S * WORK_RATE_HZ) : -round(EDGE_S * WORK_RATE_HZ)]).max() < 10.0 ** (-80.0 / 20.0)


def test_the_working_rate_passes_untouched() -> None:
    samples = _sine(440.0, WORK_RATE_HZ)
    assert np.array_equal(_resampled(samples, WORK_RATE_HZ), samples)


@settings(max_examples=25)
@given(st.sampled_from(RATES_HZ), st.lists(st.integers(0, 3000), max_size=12))
def test_pieces_of_any_sizes_give_the_same_samples(rate_hz: int, sizes: list[int]) -> None:
    samples = np.random.default_rng(0).normal(0.0, 0.1, sum(sizes)).astype(np.float32)
    resampler = Resampler(rate_hz)
    pieces = [resampler.feed(piece) for piece in np.split(samples, np.cumsum(sizes))]
    assert np.array_equal(np.concatenate((*pieces, resampler.finish())), _resampled(samples, rate_hz))


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_nothing_in_gives_nothing_out(rate_hz: int) -> None:
    assert not np.any(_resampled(np.empty(0, dtype=np.float32), rate_hz))
