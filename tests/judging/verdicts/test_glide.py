"""Glides: where they end, whatever they were heard through."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.judging.verdicts.glide import glide_of
from livecheck.judging.verdicts.vibrato import vibrato_of

TIMES = np.arange(0.0, 2.0, 0.005)


def _ramp(start_s: float, end_s: float) -> np.ndarray:
    return 60.0 + 2.0 * np.clip((TIMES - start_s) / (end_s - start_s), 0.0, 1.0)


@pytest.mark.parametrize("length_s", [0.03, 0.1, 0.3, 0.8])
def test_a_straight_glide_ends_where_it_ends(length_s: float) -> None:
    found = glide_of(TIMES, _ramp(0.8, 0.8 + length_s), 60.0, 62.0, 0.0)
    assert found is not None
    assert found == pytest.approx((0.8, 0.8 + length_s), abs=0.003)


@pytest.mark.parametrize("length_s", [0.1, 0.2, 0.4])
def test_blur_is_taken_off(length_s: float) -> None:
    blur_s = 0.012
    taps = np.arange(-10, 11) * 0.005
    kernel = np.exp(-0.5 * (taps / blur_s) ** 2)
    blurred = np.convolve(np.pad(_ramp(0.8, 0.8 + length_s), 10, mode="edge"), kernel / kernel.sum(), mode="valid")
    found = glide_of(TIMES, blurred, 60.0, 62.0, blur_s)
    assert found is not None
    assert found[1] == pytest.approx(0.8 + length_s, abs=0.006)


def test_a_wobble_near_the_end_of_a_glide_is_not_its_end() -> None:
    midis = _ramp(0.6, 1.2)
    midis[(TIMES > 0.94) & (TIMES < 0.99)] = 62.1
    found = glide_of(TIMES, midis, 60.0, 62.0, 0.0)
    assert found is not None
    assert found == pytest.approx((0.6, 1.2), abs=0.02)


@pytest.mark.parametrize("then_s", [0.3, 1.4])
def test_a_string_that_seems_to_be_elsewhere_for_a_moment_glides_where_it_did(then_s: float) -> None:
    """Another one that is struck draws the curve to where it was before, or to where it has yet to go."""
    midis = _ramp(0.8, 1.0)
    midis[np.abs(TIMES - then_s) < 0.04] = 60.0 if then_s > 1.0 else 62.0
    assert glide_of(TIMES, midis, 60.0, 62.0, 0.0) == pytest.approx((0.8, 1.0), abs=0.01)


def test_a_string_that_stays_has_no_glide() -> None:
    assert glide_of(TIMES, np.full(len(TIMES), 60.1), 60.0, 62.0, 0.0) is None


def test_vibrato_is_taken_off_and_a_level_is_left() -> None:
    vibrato = 30.0 * np.sin(2 * np.pi * 5.3 * TIMES + 0.4)
    left = vibrato - vibrato_of(vibrato, 0.005)
    assert np.abs(left[60:-60]).max() < 3.0


def test_what_is_no_vibrato_is_left_alone() -> None:
    step = np.where(TIMES < 1.0, 0.0, 20.0)
    noise = np.random.default_rng(2).normal(0.0, 1.0, len(TIMES))
    assert not vibrato_of(noise, 0.005).any()
    assert np.abs(vibrato_of(step, 0.005)).max() < 15.0


def test_a_slide_into_a_pick_is_no_vibrato() -> None:
    """It looks like the first half of a swing, the other half of which would then be put where there is none."""
    slid = -90.0 * np.cos(np.pi / 2.0 * np.clip(TIMES[:50] / 0.1, 0.0, 1.0))
    assert np.abs(vibrato_of(slid, 0.005)).max() < 3.0


def test_where_nothing_was_heard_there_is_no_vibrato() -> None:
    assert not len(vibrato_of(np.empty(0), 0.005))
