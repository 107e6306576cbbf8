"""Spectra: a sine comes out at its amplitude, a frame hears what lies around its time.

Figures of the Hann window: F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier
transform", Proceedings of the IEEE 66 (1978), table I: scalloping loss 1.42 dB, highest side lobe -32 dB.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.spectrum import loudest_near, magnitudes_of, spectrogram

WINDOW, HOP = 2048, 256
BIN_HZ = WORK_RATE_HZ / WINDOW


def _db(values: NDArray[np.float32] | float) -> NDArray[np.float64]:
    return np.asarray(20.0 * np.log10(np.maximum(values, 1e-12)), dtype=np.float64)


def _sine(bins: float, amplitude: float = 1.0) -> NDArray[np.float32]:
    times = np.arange(WINDOW + 4 * HOP) / WORK_RATE_HZ
    return (amplitude * np.sin(2.0 * np.pi * bins * BIN_HZ * times + 0.7)).astype(np.float32)


@pytest.mark.parametrize("amplitude", [1.0, 0.25, 0.003])
def test_a_sine_has_a_peak_of_its_amplitude(amplitude: float) -> None:
    frames = magnitudes_of(_sine(100, amplitude), WINDOW, HOP)
    assert frames.shape == (5, WINDOW // 2 + 1)
    assert np.argmax(frames, axis=1).tolist() == [100] * 5
    assert frames.max(axis=1) == pytest.approx(amplitude, rel=1e-4)


@pytest.mark.parametrize(("window", "hop"), [(512, 64), (2048, 256), (2048, 480), (4096, 256)])
def test_a_frame_is_the_same_in_whatever_batch(window: int, hop: int) -> None:
    samples = np.random.default_rng(0).normal(0.0, 0.1, window + 70 * hop).astype(np.float32)
    every = magnitudes_of(samples, window, hop)
    for first, count in ((0, 1), (3, 2), (5, 7), (11, 33), (1, 70)):
        part = samples[first * hop : first * hop + window + (count - 1) * hop]
        assert np.array_equal(magnitudes_of(part, window, hop), every[first : first + count])


@pytest.mark.parametrize("window", [512, 2048, 4096])
def test_single_precision_is_as_good_as_double_but_for_its_rounding(window: int) -> None:
    samples = np.random.default_rng(0).normal(0.0, 0.1, window).astype(np.float32)
    shape = 2.0 - 2.0 * np.cos(2.0 * np.pi * np.arange(window) / window)
    double = np.abs(np.fft.rfft(samples.astype(np.float64) * shape)) / window
    single = magnitudes_of(samples, window, HOP)[0]
    assert np.abs(single - double)[2:].max() < 3e-7 * double.max()


@pytest.mark.parametrize("constant", [0.5, -0.02])
def test_a_constant_is_no_sound(constant: float) -> None:
    still = np.full(WINDOW, constant, dtype=np.float32)
    assert magnitudes_of(still, WINDOW, HOP).max() < 1e-7
    sine = _sine(3.5, 0.1)
    alone, beside = magnitudes_of(sine, WINDOW, HOP), magnitudes_of(sine + np.float32(constant), WINDOW, HOP)
    assert beside == pytest.approx(alone, abs=3e-7)


def test_between_two_bins_a_sine_loses_what_the_window_says() -> None:
    assert _db(float(magnitudes_of(_sine(100.5), WINDOW, HOP)[0].max())) == pytest.approx(-1.42, abs=0.02)


def test_beside_the_main_lobe_nothing_is_higher_than_the_window_says() -> None:
    highest = []
    for bins in np.arange(100.0, 101.0, 0.05):
        level = _db(magnitudes_of(_sine(float(bins)), WINDOW, HOP)[0])
        highest.append(level[np.abs(np.arange(len(level)) - bins) > 2.0].max())
    assert max(highest) == pytest.approx(-32.0, abs=0.6)


def test_a_frame_hears_what_lies_around_its_time() -> None:
    recording = Recording()
    samples = np.zeros(WORK_RATE_HZ, dtype=np.float32)
    samples[12_000] = 1.0
    recording.append(samples)
    spectra = spectrogram(recording, 0.2, 0.8, WINDOW, HOP)
    level = spectra.magnitudes.sum(axis=1)
    assert abs(spectra.times_s[np.argmax(level)] - 0.5) <= 0.5 * spectra.hop_s
    heard = np.abs(spectra.times_s - 0.5) < 0.5 * WINDOW / WORK_RATE_HZ
    assert np.array_equal(level > 0.0, heard)


def test_frames_lie_on_one_grid_wherever_a_stretch_begins() -> None:
    recording = Recording()
    recording.append(np.random.default_rng(0).normal(0.0, 0.1, WORK_RATE_HZ).astype(np.float32))
    one, other = spectrogram(recording, 0.0, 0.6, WINDOW, HOP), spectrogram(recording, 0.317, 0.5, WINDOW, HOP)
    shift = round((other.start_s - one.start_s) / one.hop_s)
    assert other.start_s == pytest.approx(0.317, abs=0.5 * one.hop_s)
    assert np.array_equal(one.magnitudes[shift : shift + len(other.magnitudes)], other.magnitudes)


def test_times_and_frames_name_each_other() -> None:
    spectra = spectrogram(Recording(), 1.0, 2.0, WINDOW, HOP)
    assert [spectra.frame_at(float(time_s)) for time_s in spectra.times_s] == list(range(len(spectra.times_s)))
    assert spectra.times_s[[0, -1]] == pytest.approx([1.0, 2.0], abs=spectra.hop_s)
    assert (spectra.frame_at(-7.0), spectra.frame_at(99.0)) == (0, len(spectra.times_s) - 1)
    assert spectra.bin_hz == BIN_HZ


@pytest.mark.parametrize(("start_s", "stop_s"), [(1.2, 1.7), (1.5, 1.5), (1.6, 1.3), (0.0, 0.5), (3.0, 4.0)])
def test_a_span_has_two_frames_at_least_and_ends_within_the_stretch(start_s: float, stop_s: float) -> None:
    spectra = spectrogram(Recording(), 1.0, 2.0, WINDOW, HOP)
    first, stop = spectra.span(start_s, stop_s)
    assert 0 <= first <= stop - 2
    assert stop <= len(spectra.times_s)


def test_too_few_samples_give_no_frame() -> None:
    assert magnitudes_of(np.zeros(WINDOW - 1, dtype=np.float32), WINDOW, HOP).shape == (0, WINDOW // 2 + 1)


def test_the_loudest_near_a_tone_is_looked_for_within_a_bin_of_it_in_each_spectrum() -> None:
    magnitudes = np.zeros((2, 9), dtype=np.float32)
    magnitudes[0, [3, 5]], magnitudes[1, 4] = (1.0, 2.0), 3.0
    tones_hz = np.array([[20.0, 44.0, 70.0], [0.0, 26.0, 1e6]])
    wanted = [[[1.0, 2.0, 0.0], [0.0, 1.0, 0.0]], [[0.0, 3.0, 0.0], [0.0, 3.0, 0.0]]]
    assert loudest_near(magnitudes, tones_hz, bin_hz=10.0).tolist() == wanted
    assert loudest_near(magnitudes[1], tones_hz[0], bin_hz=10.0).tolist() == wanted[1][0]
