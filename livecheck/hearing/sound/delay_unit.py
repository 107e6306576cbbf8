"""A delay unit's repeats, taken off a recording.

A unit adds to everything that goes in the same repeats at the same distances. That is a ripple in the take's spectrum
(`ripple.py`) with one sharp peak at the delay; for an answer of minimum phase, which a repeat softer than what it
repeats has, the cepstrum near the delay and its multiples is all that is needed to filter it out (Oppenheim, Schafer
and Stockham, "Nonlinear filtering of multiplied and convolved signals", Proceedings of the IEEE 1968).

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
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.ripple import Cepstrum, Ripple, share_of_band

LEAST_S = 8.0
"""A shorter take tells too little."""
HIGHEST_HZ = 9000.0
SHORTEST_S, LONGEST_S = 0.1, 1.0
LEAST_PEAK, LEAST_OVER_NOISE = 0.055, 20.0
"""Of a ripple's peak, against a ripple of one neper, and against what else is in the cepstrum."""
MOST_AGAIN = 0.6
"""How high the peak at twice the delay may be beside that at the delay; for a unit half the feedback, 0.25 at most."""
TIMES = 3
BEFORE, AFTER = 4, 24
"""Samples before and after a multiple of the delay in which its peak lies: repeats are darker, and so a little wide."""
LEAST_IN_SPANS = 0.5
"""Of the least peak, in most spans: what is repeated there was partly played before, and dies away behind them."""
BLOCK = 1 << 18


@dataclass(frozen=True)
class DelayUnit:
    """What a take was played through."""

    delay_s: float
    undo: NDArray[np.float64]
    """The filter that takes its repeats off, at the working rate."""

    @classmethod
    def in_take(cls, ripple: Ripple) -> DelayUnit | None:
        """The unit that a take was played through; None if there was none."""
        if ripple.recording.duration_s < LEAST_S:
            return None
        cepstrum = ripple.cepstrum(HIGHEST_HZ)
        first, last = round(SHORTEST_S * WORK_RATE_HZ), round(LONGEST_S * WORK_RATE_HZ)
        range_ = cepstrum[first:last]
        delay = first + int(np.argmax(range_))
        peak = float(cepstrum[delay])
        least = LEAST_PEAK * share_of_band(HIGHEST_HZ)
        noise = median(np.abs(range_)) / 0.6745
        again = float(cepstrum[_near(2 * delay)].max())
        if peak < least or peak < LEAST_OVER_NOISE * noise or again > MOST_AGAIN * peak:
            return None
        in_spans = ripple.in_most_spans(HIGHEST_HZ, lambda of_span: float(of_span[_near(delay)].max()))
        if in_spans < LEAST_IN_SPANS * least:
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


def _near(delay: int) -> slice:
    return slice(delay - BEFORE, delay + AFTER)


def _undoing(cepstrum: Cepstrum, delay: int) -> NDArray[np.float64]:
    """The inverse of the filter of minimum phase that has the cepstrum near the multiples of the delay."""
    causal = np.zeros(len(cepstrum))
    for times in range(1, TIMES + 1):
        near = _near(times * delay)
        causal[near] = 2.0 * cepstrum[near]
    undo = np.fft.irfft(np.exp(-np.fft.rfft(causal)), len(cepstrum))
    return undo[: (TIMES + 1) * delay]
