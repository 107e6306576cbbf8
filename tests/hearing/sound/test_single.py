"""One string alone is named to a few cents; what is not one steady pitch is not named."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.single import single_midi
from tests.hearing.tones import laid, tone


@pytest.mark.parametrize("midi", [47.0, 52.4, 59.77, 66.0, 71.15, 80.0])
def test_a_string_alone_has_its_pitch(midi: float) -> None:
    found = single_midi(laid([(0.5, tone(midi, 1.0))], 2.0), 0.56, 0.8)
    assert found == pytest.approx(midi, abs=0.05)


def test_the_pitch_is_that_of_the_stretch_asked_for() -> None:
    take = laid([(0.5, tone(55.0, 0.6)), (1.2, tone(62.0, 0.6))], 2.0)
    assert single_midi(take, 0.56, 0.9) == pytest.approx(55.0, abs=0.05)
    assert single_midi(take, 1.26, 1.6) == pytest.approx(62.0, abs=0.05)


def test_vibrato_has_its_centre() -> None:
    clock = np.arange(WORK_RATE_HZ) / WORK_RATE_HZ
    take = laid([(0.5, tone(60.0 + 0.2 * np.sin(2.0 * np.pi * 5.0 * clock), 1.0))], 2.0)
    assert single_midi(take, 0.6, 1.2) == pytest.approx(60.0, abs=0.1)


def test_a_wide_glide_is_no_steady_pitch() -> None:
    take = laid([(0.5, tone(np.linspace(55.0, 62.0, WORK_RATE_HZ), 1.0))], 2.0)
    assert single_midi(take, 0.56, 1.4) is None


def test_silence_and_noise_have_no_pitch() -> None:
    noise = Recording()
    noise.append(np.random.default_rng(0).normal(0.0, 0.1, 2 * WORK_RATE_HZ).astype(np.float32))
    assert single_midi(noise, 0.5, 1.0) is None
    assert single_midi(laid([], 2.0), 0.5, 1.0) is None
    assert single_midi(Recording(), 0.5, 1.0) is None
