"""A delay unit's repeats, taken off a recording.

A unit adds to everything that goes in the same repeats at the same distances: it is a linear filter, whose answer shows
in the logarithm of the take's spectrum as a ripple that no playing makes. The cepstrum, the spectrum of that logarithm,
has the ripple as one sharp peak at the delay, wherever in the take one looks; for an answer of minimum phase, which a
repeat softer than what it repeats has, the cepstrum near the delay and its multiples is all that is needed to filter it
out (Bogert, Healy and Tukey, "The quefrency alanysis of time series for echoes", 1963; Oppenheim, Schafer and Stockham,
"Nonlinear filtering of multiplied and convolved signals", Proceedings of the IEEE 1968).

In goes a finished take, out comes the take as if it had been played without the unit. Reverb has no such peak, and
what plays again at a steady tempo, such as a drum machine, has as high a peak at twice the distance. Two notes that
happen to be alike, as sampled ones are, have one where they are and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.median import median
from livecheck.hearing.recording import Recording
from livecheck.hearing.resample import WORK_RATE_HZ

PART = 1 << 19
"""Samples of one spectrum (22 s), or as many as a shorter take needs."""
LEAST_S = 8.0
"""A shorter take tells too little."""
LOWEST_HZ, HIGHEST_HZ = 60.0, 9000.0
SMOOTH_HZ = 55.0
"""What of the logarithm is smoother than that is the sound's colour and no ripple."""
SHORTEST_S, LONGEST_S = 0.1, 1.0
LEAST_PEAK, LEAST_OVER_NOISE = 0.055, 20.0
"""Of a ripple's peak, against a ripple of one neper, and against what else is in the cepstrum."""
MOST_AGAIN = 0.6
"""How high the peak at twice the delay may be beside that at the delay; for a unit half the feedback, 0.25 at most."""
TIMES = 3
BEFORE, AFTER = 4, 24
"""Samples before and after a multiple of the delay in which its peak lies: repeats are darker, and so a little wide."""
SPAN_S = 4.0
"""Of a take, in which the peak is looked for again."""
LOUD = 1e-3
"""Of the energy of the loudest span: a softer one, in which nothing is played, tells nothing."""
LEAST_IN_SPANS = 0.5
"""Of the least peak, in most spans: what is repeated there was partly played before, and dies away behind them."""
FAINTEST = 1e-15
"""Of full scale, below all that is recorded: silence needs a logarithm too."""
BLOCK = 1 << 18


@dataclass(frozen=True)
class DelayUnit:
    """What a take was played through."""

    delay_s: float
    undo: NDArray[np.float64]
    """The filter that takes its repeats off, at the working rate."""

    @classmethod
    def in_take(cls, recording: Recording) -> DelayUnit | None:
        """The unit that a take was played through; None if there was none."""
        if recording.duration_s < LEAST_S:
            return None
        size = min(PART, 1 << (len(recording) - 1).bit_length())
        cepstrum = _cepstrum(_mean_levels(recording, size), size)
        first, last = round(SHORTEST_S * WORK_RATE_HZ), round(LONGEST_S * WORK_RATE_HZ)
        range_ = cepstrum[first:last]
        delay = first + int(np.argmax(range_))
        peak = float(cepstrum[delay])
        least = LEAST_PEAK * (HIGHEST_HZ - LOWEST_HZ) / (0.5 * WORK_RATE_HZ)
        noise = median(np.abs(range_)) / 0.6745
        again = float(cepstrum[_near(2 * delay)].max())
        if peak < least or peak < LEAST_OVER_NOISE * noise or again > MOST_AGAIN * peak:
            return None
        if _in_most_spans(recording, delay) < LEAST_IN_SPANS * least:
            return None
        return cls(delay / WORK_RATE_HZ, _undoing(cepstrum, delay))

    def taken_off(self, recording: Recording) -> Iterator[NDArray[np.float32]]:
        """The recording without the unit's repeats, as long as it was, piece by piece."""
        overlap = len(self.undo) - 1
        answer = np.fft.rfft(self.undo, BLOCK)
        step = BLOCK - overlap
        for start in range(0, len(recording), step):
            samples = recording.slice(start - overlap, start + step)
            kept = np.fft.irfft(np.fft.rfft(samples, BLOCK) * answer, BLOCK)[overlap : overlap + step]
            yield kept[: len(recording) - start].astype(np.float32)


def _parts(recording: Recording, size: int) -> Iterator[NDArray[np.float32]]:
    """As many whole parts as there are, at least one."""
    for start in range(0, max(1, len(recording) - size + 1), size):
        yield recording.slice(start, start + size)


def _mean_levels(recording: Recording, size: int) -> NDArray[np.float64]:
    """The mean of `_levels` over all parts of a take, one after the other in the room that one needs."""
    total, count = np.zeros(size // 2 + 1), 0
    for part in _parts(recording, size):
        total += _levels(part)
        count += 1
    return total / count


def _levels(part: NDArray[np.float32]) -> NDArray[np.float32]:
    """Logarithms of the magnitudes in the spectrum of so many samples; shape (samples // 2 + 1,). In single
    precision, which is far finer than the ripple: in double, most of the time went into getting memory."""
    levels = np.abs(np.fft.rfft(part, norm="forward"))
    levels += FAINTEST
    return np.asarray(np.log(levels, out=levels))


def _cepstrum(levels: NDArray[np.floating], size: int) -> NDArray[np.float64]:
    """Of some samples' `_levels`, or of a mean of them, the colour of the sound taken out; shape (size,)."""
    hz = np.arange(len(levels)) * WORK_RATE_HZ / size
    half = round(0.5 * SMOOTH_HZ * size / WORK_RATE_HZ)
    sums = np.concatenate(([0.0], np.cumsum(np.pad(levels, half, mode="edge"), dtype=np.float64)))
    ripple = levels - (sums[2 * half + 1 :] - sums[: -2 * half - 1]) / (2 * half + 1)
    inside = (hz > LOWEST_HZ) & (hz < HIGHEST_HZ)
    return np.fft.irfft(np.where(inside, ripple, 0.0), size)


def _in_most_spans(recording: Recording, delay: int) -> float:
    """How high the peak at the delay is in at least half of the spans in which something is played."""
    peaks, energies = [], []
    for span in _parts(recording, round(SPAN_S * WORK_RATE_HZ)):
        peaks.append(float(_cepstrum(_levels(span), len(span))[_near(delay)].max()))
        energies.append(float(span @ span))
    loud = np.array(energies) > LOUD * max(energies)
    return float(np.quantile(np.array(peaks)[loud], 0.5, method="lower"))


def _near(delay: int) -> slice:
    return slice(delay - BEFORE, delay + AFTER)


def _undoing(cepstrum: NDArray[np.float64], delay: int) -> NDArray[np.float64]:
    """The inverse of the filter of minimum phase that has the cepstrum near the multiples of the delay."""
    causal = np.zeros(len(cepstrum))
    for times in range(1, TIMES + 1):
        near = _near(times * delay)
        causal[near] = 2.0 * cepstrum[near]
    undo = np.fft.irfft(np.exp(-np.fft.rfft(causal)), len(cepstrum))
    return undo[: (TIMES + 1) * delay]
