"""A delay unit whose delay wavers, as that of a tape does, and what is left of a take without its repeats.

No filter takes such repeats off, and the ripple that they leave in the take's spectrum (`ripple.py`) is no sharp peak:
it is spread over what the delay goes through, and that the more the higher the frequency. What lies within that of the
delay, at low frequencies, together tells how loud the first repeat is. So much of what was heard a delay before, its
own repeats with it, is expected to sound again, and is taken from the short-time spectra by how loud it is there,
whatever its phase (Boll, "Suppression of acoustic noise in speech using spectral subtraction", IEEE Transactions on
Acoustics, Speech, and Signal Processing 1979). A string that rings on beyond its repeat hardly changes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from livecheck.hearing.median import median
from livecheck.hearing.sound.delay_unit import LEAST_S, LONGEST_S, MOST_AGAIN, SHORTEST_S
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.ripple import Cepstrum, Ripple
from livecheck.hearing.sound.spectrum import hann

HIGHEST_HZ = 2500.0
SPREAD = 16
"""Samples on either side of the delay (0.7 ms) over which its peak is spread."""
LEAST_REPEAT, LEAST_OVER_NOISE = 0.2, 15.0
"""Of what it repeats, and against what else is in the cepstrum. What happens to come twice is softer."""
LEAST_IN_SPANS = 0.5
"""Of the softest repeat, in most spans of the take."""
WINDOW, HOP = 2048, 512
EXPECTED = 2.0
"""Of a repeat's energy: from one window to the next it is more or less than on the whole."""
LEFT = 0.0025
"""Of the energy where all of it is a repeat's: that a string ended, not that there was silence."""
BLOCK = 64 * HOP
FAINTEST = 1e-20
"""Of full scale's energy: silence is divided by too."""


@dataclass(frozen=True)
class TapeUnit:
    """What a take was played through."""

    delay_s: float
    repeat: float
    """How loud a repeat is beside what it repeats."""

    @classmethod
    def in_take(cls, ripple: Ripple) -> TapeUnit | None:
        """The unit that a take was played through; None if there was none."""
        if ripple.recording.duration_s < LEAST_S:
            return None
        repeats = _repeats(ripple.cepstrum(HIGHEST_HZ))
        first, last = round(SHORTEST_S * WORK_RATE_HZ), round(LONGEST_S * WORK_RATE_HZ)
        delay = first + int(np.argmax(repeats[first:last]))
        repeat = float(repeats[delay])
        noise = median(np.abs(repeats[first:last])) / 0.6745
        again = float(repeats[_near(2 * delay)].max())
        if repeat < LEAST_REPEAT or repeat < LEAST_OVER_NOISE * noise or again > MOST_AGAIN * repeat:
            return None
        in_spans = ripple.in_most_spans(HIGHEST_HZ, lambda of_span: float(_repeats(of_span)[_near(delay)].max()))
        return cls(delay / WORK_RATE_HZ, repeat) if in_spans >= LEAST_IN_SPANS * LEAST_REPEAT else None

    def taken_off(self, recording: Recording) -> Iterator[NDArray[np.float32]]:
        """The recording without the unit's repeats, as long as it was, piece by piece."""
        window, delay = hann(WINDOW), round(self.delay_s * WORK_RATE_HZ)
        whole = float(window @ window) / HOP
        beyond = WINDOW - HOP
        for start in range(0, len(recording), BLOCK):
            first, stop = start - beyond, start + BLOCK + beyond
            heard = _spectra(recording.slice(first, stop))
            energy = np.abs(heard) ** 2
            repeated = (self.repeat * np.abs(_spectra(recording.slice(first - delay, stop - delay)))) ** 2
            kept = np.sqrt(np.maximum(1.0 - EXPECTED * repeated / (energy + FAINTEST), LEFT))
            frames = np.fft.irfft(kept * heard, axis=1) * (window / whole)
            out = np.zeros(stop - first)
            for number, frame in enumerate(frames):
                out[number * HOP : number * HOP + WINDOW] += frame
            yield out[beyond : beyond + min(BLOCK, len(recording) - start)].astype(np.float32)


def _repeats(cepstrum: Cepstrum) -> Cepstrum:
    """How loud a repeat at each distance would be that the cepstrum comes from."""
    sums = np.convolve(cepstrum, np.ones(2 * SPREAD + 1), mode="same")
    return np.asarray(2.0 * sums)


def _near(delay: int) -> slice:
    return slice(delay - SPREAD, delay + SPREAD + 1)


def _spectra(samples: NDArray[np.float32]) -> NDArray[np.complexfloating]:
    """Of all frames that lie in some samples; shape (frames, WINDOW // 2 + 1)."""
    return np.asarray(np.fft.rfft(sliding_window_view(samples, WINDOW)[::HOP] * hann(WINDOW), axis=1))
