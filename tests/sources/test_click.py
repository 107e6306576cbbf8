"""The click as samples, and what is mixed for the output."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.sources.click import CAUTION, FIRST_HZ, LASTS_S, LOUDEST_DB, OTHER_HZ, RULER, click, clicks, ruler
from livecheck.sources.driver_message import Sound
from livecheck.sources.mixer import Mixer


@given(st.integers(1, 12), st.floats(40.0, 240.0), st.sampled_from([8_000, 44_100, 48_000, 96_000]))
def test_every_click_begins_on_its_beat_to_the_sample(beats: int, tempo: float, rate_hz: int) -> None:
    samples = clicks(beats, tempo, 4, rate_hz)
    assert len(samples) == pytest.approx(beats * 60.0 / tempo * rate_hz, abs=1)
    loud = np.flatnonzero(np.abs(samples) > 0.09)
    starts = [int(frame) for frame in loud if not (loud[(loud < frame) & (loud > frame - LASTS_S * rate_hz)]).size]
    assert starts == [round(beat * 60.0 / tempo * rate_hz) for beat in range(beats)]


@pytest.mark.parametrize(("level_db", "peak"), [(-20.0, 0.1), (-40.0, 0.01), (0.0, 10.0 ** (LOUDEST_DB / 20.0))])
def test_it_is_as_loud_as_asked_and_never_at_full_scale(level_db: float, peak: float) -> None:
    assert np.abs(click(FIRST_HZ, 48_000, level_db)).max() == pytest.approx(peak, rel=1e-3)


def test_the_first_beat_of_a_bar_is_higher() -> None:
    rate_hz = 48_000
    bars = clicks(4, 60.0, 3, rate_hz).reshape(4, rate_hz)
    highest = [np.argmax(np.abs(np.fft.rfft(bar))) for bar in bars]
    assert highest == pytest.approx([FIRST_HZ, OTHER_HZ, OTHER_HZ, FIRST_HZ], abs=8)


def test_no_two_clicks_of_the_ruler_are_equally_far_apart() -> None:
    """0 1 4 9 15 22 32 34 is the optimal Golomb ruler of order 8 (published tables of Golomb rulers)."""
    distances = [b - a for a, b in itertools.combinations(RULER, 2)]
    assert len(set(distances)) == len(distances)
    assert len(ruler(8_000)) == round(3.4 * 8_000) + round(LASTS_S * 8_000)


def test_the_published_limits_are_named() -> None:
    assert "H.870" in CAUTION
    assert "NIOSH 98-126" in CAUTION


@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(1, 30)), max_size=5),
    st.lists(st.integers(1, 17), min_size=1, max_size=12),
)
def test_what_is_mixed_comes_out_at_its_frames_however_it_is_cut(
    sounds: list[tuple[int, int]], sizes: list[int]
) -> None:
    mixer = Mixer()
    wanted = np.zeros(sum(sizes) + 100, dtype=np.float32)
    for at, length in sounds:
        mixer.add(Sound(np.full(length, 0.125, dtype=np.float32).tobytes(), at))
        wanted[at : at + length] += 0.125
    out = np.concatenate([np.frombuffer(mixer.next(size, 2), dtype=np.float32) for size in sizes])
    assert np.array_equal(out, np.repeat(wanted[: sum(sizes)], 2))


def test_what_comes_too_late_is_played_at_once_and_nothing_is_louder_than_full_scale() -> None:
    mixer = Mixer()
    mixer.next(10, 1)
    for _ in range(3):
        mixer.add(Sound(np.full(4, 0.5, dtype=np.float32).tobytes(), 3))
    assert np.frombuffer(mixer.next(6, 1), dtype=np.float32).tolist() == [1.0] * 4 + [0.0] * 2
