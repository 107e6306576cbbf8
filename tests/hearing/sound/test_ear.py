"""The coarse ear: resampling and glances do not depend on how the input was cut; salience finds the pitch."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.sound.ear import AudioEar, Glance, contrast_of
from livecheck.hearing.sound.resample import WORK_RATE_HZ, Resampler
from livecheck.hearing.sound.salience import GRID_MIDI, grid_index
from tests.hearing.tones import tone


def _glances(samples: NDArray[np.float32], rate_hz: int, block: int) -> list[Glance]:
    ear = AudioEar(rate_hz)
    glances: list[Glance] = []
    for at in range(0, len(samples), block):
        ear.feed(samples[at : at + block])
        glances += ear.glances()
    ear.finish()
    return [*glances, *ear.glances()]


def _joined(glances: list[Glance]) -> NDArray[np.float32]:
    return np.concatenate([np.column_stack((g.contrast, g.onset, g.loud)) for g in glances])


@pytest.mark.parametrize("rate_hz", [8000, 22_050, 24_000, 44_100, 48_000, 192_000])
@pytest.mark.parametrize("block", [64, 256, 1000, 8192])
def test_how_the_input_is_cut_changes_nothing(rate_hz: int, block: int) -> None:
    samples = np.random.default_rng(0).normal(0, 0.1, rate_hz // 2).astype(np.float32)
    whole = _joined(_glances(samples, rate_hz, len(samples)))
    assert np.array_equal(_joined(_glances(samples, rate_hz, block)), whole)


@pytest.mark.parametrize("rate_hz", [8000, 44_100, 48_000, 96_000])
def test_resampling_keeps_the_clock(rate_hz: int) -> None:
    """A click stays where it was, to half a millisecond."""
    samples = np.zeros(rate_hz, dtype=np.float32)
    samples[rate_hz // 2] = 1.0
    resampler = Resampler(rate_hz)
    out = np.concatenate((resampler.feed(samples), resampler.finish()))
    assert abs(len(out) - WORK_RATE_HZ) <= 2
    assert abs(int(np.argmax(np.abs(out))) / WORK_RATE_HZ - 0.5) < 0.0005


@pytest.mark.parametrize("midi", [40.0, 52.3, 64.0, 71.5, 80.0])
def test_the_pitch_of_a_tone_stands_out(midi: float) -> None:
    contrast = np.concatenate([g.contrast for g in _glances(tone(midi, 1.0), WORK_RATE_HZ, 4096)])
    row = contrast[len(contrast) // 2]
    assert row[grid_index(midi)] > 0.9
    assert row[grid_index(midi + 1.0)] ** 3 < 0.5
    assert row[grid_index(midi - 1.0)] ** 3 < 0.5


def test_the_grid_names_its_own_pitches() -> None:
    assert np.array_equal(grid_index(GRID_MIDI), np.arange(len(GRID_MIDI)))


def test_silence_is_not_loud() -> None:
    silence = np.zeros(WORK_RATE_HZ, dtype=np.float32)
    samples = np.concatenate((silence, tone(60.0, 1.0), silence))
    loud = np.concatenate([g.loud for g in _glances(samples, WORK_RATE_HZ, 4096)])
    assert loud[70] == 1.0
    assert loud[-20] == 0.0


def test_contrast_is_the_best_nearby_over_the_best_of_all() -> None:
    rows = np.random.default_rng(3).random((5, 40)).astype(np.float32)
    plain = [[row[max(0, at - 4) : at + 5].max() / row.max() for at in range(len(row))] for row in rows]
    assert np.array_equal(contrast_of(rows), np.array(plain, dtype=np.float32))
