"""How late what was played comes back: known delays are found, and where there is none, none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.hearing.sound.latency import along_latency_s, loop_latency_s
from livecheck.sources.click import ruler

RATE_HZ = 8_000
PLAYED = ruler(RATE_HZ)


def back(frames: int, gain: float, noise: float) -> np.ndarray[tuple[int], np.dtype[np.float32]]:
    heard = np.random.default_rng(frames).normal(0.0, noise, len(PLAYED) + RATE_HZ)
    heard[frames : frames + len(PLAYED)] += gain * PLAYED
    return heard.astype(np.float32)


@given(st.integers(0, RATE_HZ - 1), st.sampled_from([0.01, 0.3, 1.0]))
def test_a_known_delay_to_the_frame(frames: int, gain: float) -> None:
    heard = back(frames, gain, 0.0005)
    assert loop_latency_s(PLAYED, heard, RATE_HZ) == pytest.approx(frames / RATE_HZ, abs=1.5 / RATE_HZ)


def test_a_room_that_answers_later_and_less_does_not_matter() -> None:
    heard = back(300, 0.3, 0.0005) + back(420, 0.1, 0.0)
    assert loop_latency_s(PLAYED, heard, RATE_HZ) == pytest.approx(300 / RATE_HZ, abs=1.5 / RATE_HZ)


@given(st.integers(0, 1000))
def test_noise_silence_and_something_else_are_no_click(seed: int) -> None:
    noise = np.random.default_rng(seed).normal(0.0, 0.1, len(PLAYED) + RATE_HZ).astype(np.float32)
    assert loop_latency_s(PLAYED, noise, RATE_HZ) is None
    assert loop_latency_s(PLAYED, np.zeros_like(noise), RATE_HZ) is None


def test_a_string_that_rings_meanwhile_is_no_click() -> None:
    time_s = np.arange(len(PLAYED) + RATE_HZ) / RATE_HZ
    for hz in (110.0, 392.0, 784.0):
        string = sum(0.2 / k * np.sin(2.0 * np.pi * k * hz * time_s) * np.exp(-time_s) for k in range(1, 5))
        assert loop_latency_s(PLAYED, np.asarray(string, dtype=np.float32), RATE_HZ) is None


@given(st.floats(-0.1, 0.45), st.lists(st.floats(-0.015, 0.015), min_size=8, max_size=8))
def test_playing_along_in_the_middle(late_s: float, unsteady_s: list[float]) -> None:
    clicks_s = [n * 60.0 / 90.0 for n in range(8)]
    hits_s = [click_s + late_s + off_s for click_s, off_s in zip(clicks_s, unsteady_s, strict=True)]
    found = along_latency_s(clicks_s, hits_s, 60.0 / 90.0)
    assert found == pytest.approx(late_s, abs=0.0151)


def test_too_few_hits_or_unsteady_ones_say_nothing() -> None:
    clicks_s = [n * 0.6 for n in range(8)]
    assert along_latency_s(clicks_s, [c + 0.03 for c in clicks_s[:4]], 0.6) is None
    assert along_latency_s(clicks_s, [c + (n % 4) * 0.1 for n, c in enumerate(clicks_s)], 0.6) is None
    assert along_latency_s(clicks_s, [], 0.6) is None
