"""Sums and differences of strings, checked against what a curved transfer function really gives."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.hearing.sound.mixing import Clearness, clearness, mixtures
from livecheck.hearing.sound.moment import Moment
from livecheck.hearing.sound.onset import Onset
from livecheck.hearing.sound.partials import Peaks
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.spectrum import spectrogram
from livecheck.lesson.pitch import hz_of
from tests.bench.strings import MODELLED, plucked

PAIR = (60.0, 64.0)


def _peaks(midis: tuple[float, ...], drive: float) -> Peaks:
    sound = sum(plucked(midi, MODELLED, 1.0, WORK_RATE_HZ) for midi in midis)
    bent = np.tanh(drive * sound + 0.2) - np.tanh(0.2) if drive else np.asarray(sound)
    recording = Recording()
    recording.append((0.3 * bent).astype(np.float32))
    spectra = spectrogram(recording, 0.1, 0.4, 2048, 256)
    return Peaks.of(spectra.magnitudes.mean(axis=0), spectra.bin_hz)


def test_two_tones_give_their_sums_and_differences() -> None:
    """sin a · sin b = (cos(a - b) - cos(a + b)) / 2, and so on for higher orders."""
    f, g = hz_of(60.0), hz_of(64.0)
    wanted = [f + g, 2 * f - g, 2 * g - f, 2 * f + g, f + 2 * g]
    assert mixtures(PAIR, 3) == pytest.approx(sorted(wanted), abs=0.01)


def test_three_strings_mix_in_threes_too() -> None:
    f, g, h = hz_of(60.0), hz_of(64.0), hz_of(67.0)
    found = mixtures((60.0, 64.0, 67.0), 3)
    for tone in (f + g - h, f - g + h, g + h - f, f + g + h):
        assert float(np.abs(found - tone).min()) < 0.01


def test_one_string_mixes_with_nothing() -> None:
    assert len(mixtures((60.0,))) == 0
    assert len(mixtures(())) == 0


@pytest.mark.parametrize(("drive", "mixed"), [(0.0, False), (2.0, True), (6.0, True)])
def test_driven_sound_is_told_from_clean_sound(drive: float, mixed: bool) -> None:
    spectra = [(_peaks(midis, drive), midis) for midis in ((60.0, 64.0), (59.0, 63.0), (62.0, 67.0))]
    take = Clearness()
    take.learn(0.0, clearness(spectra))
    assert take.is_mixed is mixed


def test_all_passages_tell_of_a_take_each_as_it_was_heard_last() -> None:
    take = Clearness()
    assert not take.is_mixed
    take.learn(0.0, [0.5])
    take.learn(2.0, [0.5, 0.5])
    assert not take.is_mixed  # three are too few
    take.learn(4.0, [0.1])
    assert take.is_mixed  # 1.0 of the clearer 2
    take.learn(2.0, [0.05, 0.05])
    assert not take.is_mixed  # 0.55 of them


def test_the_clearer_half_of_a_take_tells_whether_it_is_mixed() -> None:
    """Soft passages, and strings whose mixtures lie where little is heard, say nothing against it."""
    take = Clearness()
    for at in range(4):
        take.learn(float(at), [0.4, 0.5])
        take.learn(10.0 + at, [0.0, 0.1])
    assert take.is_mixed
    for at in range(4):
        take.learn(float(at), [0.2, 0.3])
    assert not take.is_mixed


def test_a_difference_tone_is_no_string() -> None:
    """E and G sharp, driven, give a low E that nobody struck: their sums and differences are its partials."""
    midis = (64.0, 68.0)
    peaks = _peaks(midis, 6.0)
    empty = np.zeros(1025, dtype=np.float32)
    moment = Moment(Onset(0.1, 0.6), empty, empty + np.float32(1e-6), peaks)
    driven = Moment(Onset(0.1, 0.6), empty, empty + np.float32(1e-6), peaks, driven=True)
    ghost = 12.0 * np.log2((2 * hz_of(64.0) - hz_of(68.0)) / 440.0) + 69.0
    plain, careful = moment.evidence(ghost, midis), driven.evidence(ghost, midis)
    assert careful.free < plain.free
    assert careful.presence * careful.free < plain.presence * plain.free


def test_a_constant_in_a_recording_is_no_sound() -> None:
    tone = 0.1 * np.sin(2.0 * np.pi * 220.0 * np.arange(WORK_RATE_HZ) / WORK_RATE_HZ)
    rows = []
    for constant in (0.0, 0.5):
        recording = Recording()
        recording.append((tone + constant).astype(np.float32))
        rows.append(spectrogram(recording, 0.2, 0.6, 2048, 256).magnitudes)
    assert np.abs(rows[1] - rows[0]).max() < 1e-4
