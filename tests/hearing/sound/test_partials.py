"""Evidence for a string among others: by free partials only."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.hearing.sound.partials import Peaks, free_partials, is_shadow, shadows, support
from livecheck.hearing.sound.spectrum import spectrogram
from tests.hearing.tones import laid, tone


def _peaks(*midis: float) -> Peaks:
    spectra = spectrogram(laid([(0.0, tone(midi, 1.0)) for midi in midis], 1.0), 0.5, 0.5, 2048, 256)
    return Peaks.of(spectra.magnitudes[0], spectra.bin_hz)


@pytest.mark.parametrize("grip", [(55.0, 59.0, 64.0), (60.0, 64.0, 67.0), (57.0, 64.0), (62.0, 65.0)])
def test_every_string_of_a_grip_is_there_and_a_missing_one_is_not(grip: tuple[float, ...]) -> None:
    whole = _peaks(*grip)
    for midi in grip:
        others = [other for other in grip if other != midi]
        assert support(whole, np.array([midi]), others).presence[0] > 0.6
        assert support(_peaks(*others), np.array([midi]), others).presence[0] < 0.3


def test_an_octave_leaves_nothing_free() -> None:
    assert not free_partials(np.array([72.0]), [60.0], 11.7).any()
    assert free_partials(np.array([60.0]), [72.0], 11.7)[0, ::2].all()


def test_peaks_are_read_between_the_bins() -> None:
    peaks = _peaks(69.3)
    first = peaks.hz[np.argmin(np.abs(peaks.hz - 440.0 * 2 ** (0.3 / 12)))]
    assert abs(1200 * np.log2(first / (440.0 * 2 ** (0.3 / 12)))) < 1.5


def test_one_pair_hides_as_many_do() -> None:
    uppers = np.linspace(40.0, 80.0, 801)
    assert shadows(45.0, uppers).tolist() == [is_shadow(45.0, upper) for upper in uppers.tolist()]
    assert shadows(45.0, np.array([57.0, 64.02, 69.0, 62.0])).tolist() == [True, True, True, False]
