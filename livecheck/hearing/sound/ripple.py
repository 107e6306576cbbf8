"""What repeats at one distance leave in the logarithm of a take's spectrum.

Whatever adds to everything a repeat at the same distance is a linear filter, whose answer shows in that logarithm as a
ripple that no playing makes. The cepstrum, the spectrum of the logarithm, has the ripple as a peak at the distance,
wherever in the take one looks (Bogert, Healy and Tukey, "The quefrency alanysis of time series for echoes", 1963).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ

PART = 1 << 19
"""Samples of one spectrum (22 s), or as many as a shorter take needs."""
LOWEST_HZ = 60.0
SMOOTH_HZ = 55.0
"""What of the logarithm is smoother than that is the sound's colour and no ripple."""
SPAN_S = 4.0
"""Of a take, in which the peak is looked for again."""
LOUD = 1e-3
"""Of the energy of the loudest span: a softer one, in which nothing is played, tells nothing."""
FAINTEST = 1e-15
"""Of full scale, below all that is recorded: silence needs a logarithm too."""

Cepstrum = NDArray[np.float64]


def share_of_band(highest_hz: float) -> float:
    """Of the whole spectrum, what a ripple is looked for in: so much lower than the ripple's its peak is."""
    return (highest_hz - LOWEST_HZ) / (0.5 * WORK_RATE_HZ)


class Ripple:
    """That of a take."""

    def __init__(self, recording: Recording) -> None:
        self.recording = recording
        self._size = min(PART, 1 << max(1, len(recording) - 1).bit_length())

    def cepstrum(self, highest_hz: float) -> Cepstrum:
        """Of the whole take, by what lies below a frequency."""
        return _cepstrum(self._levels, self._size, highest_hz)

    def in_most_spans(self, highest_hz: float, peak_of: Callable[[Cepstrum], float]) -> float:
        """How high a peak is in at least half of the spans in which something is played."""
        peaks, energies = [], []
        for span in _parts(self.recording, round(SPAN_S * WORK_RATE_HZ)):
            peaks.append(peak_of(_cepstrum(_levels(span), len(span), highest_hz)))
            energies.append(float(span @ span))
        loud = np.array(energies) > LOUD * max(energies)
        return float(np.quantile(np.array(peaks)[loud], 0.5, method="lower"))

    @cached_property
    def _levels(self) -> NDArray[np.float64]:
        """The mean of `_levels` over all parts of the take, one after the other in the room that one needs."""
        total, count = np.zeros(self._size // 2 + 1), 0
        for part in _parts(self.recording, self._size):
            total += _levels(part)
            count += 1
        return total / count


def _parts(recording: Recording, size: int) -> Iterator[NDArray[np.float32]]:
    """As many whole parts as there are, at least one."""
    for start in range(0, max(1, len(recording) - size + 1), size):
        yield recording.slice(start, start + size)


def _levels(part: NDArray[np.float32]) -> NDArray[np.float32]:
    """Logarithms of the magnitudes in the spectrum of so many samples; shape (samples // 2 + 1,). In single
    precision, which is far finer than the ripple: in double, most of the time went into getting memory."""
    levels = np.abs(np.fft.rfft(part, norm="forward"))
    levels += FAINTEST
    return np.asarray(np.log(levels, out=levels))


def _cepstrum(levels: NDArray[np.floating], size: int, highest_hz: float) -> Cepstrum:
    """Of some samples' `_levels`, or of a mean of them, the colour of the sound taken out; shape (size,)."""
    hz = np.arange(len(levels)) * WORK_RATE_HZ / size
    half = round(0.5 * SMOOTH_HZ * size / WORK_RATE_HZ)
    sums = np.concatenate(([0.0], np.cumsum(np.pad(levels, half, mode="edge"), dtype=np.float64)))
    ripple = levels - (sums[2 * half + 1 :] - sums[: -2 * half - 1]) / (2 * half + 1)
    inside = (hz > LOWEST_HZ) & (hz < highest_hz)
    return np.fft.irfft(np.where(inside, ripple, 0.0), size)
