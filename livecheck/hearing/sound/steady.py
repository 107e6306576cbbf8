"""One string at a time, held: what its pitch is, to a cent.

In: mono samples of any rate, in blocks of any size. Out: one `Held` for each note, as soon as it has rung steadily for
long enough. Where it rings is told by aubio's YIN (de Cheveigné & Kawahara, JASA 2002); how high it is, by the peaks of
its partials, interpolated in a long spectrum (Smith & Serra, "PARSHL", 1987). A stiff string's partials are sharp; each
counts by its power times the square of its number, as it does in the period at which the waveform repeats best, so what
comes out is what a tuner shows.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import aubio
import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.resample import WORK_RATE_HZ, Resampler
from livecheck.lesson.pitch import midi_of

HOP = 1024
"""43 ms."""
WINDOW, YIN_WINDOW = 8192, 4096
PADDED = 4 * WINDOW
"""With so much of it zeros the parabola through three bins is exact to a tenth of a cent."""
BIN_HZ = WORK_RATE_HZ / PADDED
PARTIALS = 16
REACH_CENTS = 40.0
"""How far from its place a partial is looked for."""
LOBE_BINS = 10
"""Half the width of a partial's peak: Hann's main lobe is two bins of the unpadded spectrum to each side."""
LEAST_FIRST = 10.0 ** (-30.0 / 20.0)
"""Beside a string's strongest partial its first is at least so strong, or two strings seem to be one lower one."""
LEAST_OWN = 0.95
"""So much of all sound is one string's own partials where it sounds alone."""
TOP_HZ = 0.45 * WORK_RATE_HZ
LEAST_CONFIDENCE = 0.8
LEAST_LEVEL = 1e-4
"""Root mean square, full scale 1: nothing sounds below."""
LOWEST_HZ, HIGHEST_HZ = 30.0, 4000.0
HOPS, STEADY_HOPS = 16, 14
"""A note is held once so many of so many hops (0.7 s) agree, after the third of a second that the window takes."""
STEADY_CENTS = 3.0
"""To each side of the middle. What a string does in its first moments, or a bar with vibrato, is more."""
STRUCK = 1.6
"""A rise of the level by so much within a few hops is a new pick. Without one no other note is given: a string that
comes to the fore as another fades was not struck."""


@dataclass(frozen=True)
class Held:
    time_s: float
    """When it had been held long enough."""
    midi: float


class SteadyEar:
    """`feed` gives the notes that were held long enough since."""

    def __init__(self, rate_hz: int) -> None:
        self._resampler = Resampler(rate_hz)
        self._waiting = np.empty(0, dtype=np.float32)
        self._window = np.zeros(WINDOW, dtype=np.float32)
        self._taper = np.hanning(WINDOW + 1)[:-1]
        self._yin = aubio.pitch("yinfast", YIN_WINDOW, HOP, WORK_RATE_HZ)
        self._yin.set_tolerance(0.15)
        self._midis: deque[float] = deque(maxlen=HOPS)
        self._levels: deque[float] = deque([1.0] * 3, maxlen=3)
        self._is_given = False
        self._hops = 0
        self._unclear_hops = 0

    @property
    def unclear_s(self) -> float:
        """For how long something has sounded now that is not one clear note."""
        return self._unclear_hops * HOP / WORK_RATE_HZ

    def feed(self, samples: NDArray[np.float32]) -> list[Held]:
        self._waiting = np.concatenate((self._waiting, self._resampler.feed(samples)))
        held = []
        while len(self._waiting) >= HOP:
            hop, self._waiting = self._waiting[:HOP], self._waiting[HOP:]
            midi = self._hop(hop)
            if midi is not None:
                held.append(Held(self._hops * HOP / WORK_RATE_HZ, midi))
        return held

    def _hop(self, hop: NDArray[np.float32]) -> float | None:
        """Take in one hop; the pitch of a note that has just been held long enough."""
        self._hops += 1
        self._window = np.concatenate((self._window[HOP:], hop))
        level = float(np.sqrt(np.mean(hop * hop)))
        if level > STRUCK * max(min(self._levels), LEAST_LEVEL):
            self._midis.clear()
            self._is_given = False
        self._levels.append(level)
        self._unclear_hops = self._unclear_hops + 1 if level > LEAST_LEVEL and not self._is_given else 0
        self._midis.append(self._pitch(hop, level))
        midis = np.array(self._midis)
        if self._is_given or np.count_nonzero(np.isfinite(midis)) < STEADY_HOPS:
            return None
        middle = float(np.nanmedian(midis))
        if np.count_nonzero(np.abs(midis - middle) * 100.0 <= STEADY_CENTS) < STEADY_HOPS:
            return None
        self._is_given = True
        return middle

    def _pitch(self, hop: NDArray[np.float32], level: float) -> float:
        """MIDI number of what rings in the window, NaN where it is not one clear note."""
        hz = float(self._yin(hop)[0])
        if level < LEAST_LEVEL or self._yin.get_confidence() < LEAST_CONFIDENCE or not LOWEST_HZ < hz < HIGHEST_HZ:
            return np.nan
        spectrum = np.abs(np.fft.rfft(self._window * self._taper, PADDED))
        reach = 2.0 ** (REACH_CENTS / 1200.0)
        off_cents, levels, own = [], [], 0.0
        for number in range(1, min(PARTIALS, int(TOP_HZ / hz)) + 1):
            low, high = int(number * hz / reach / BIN_HZ), int(number * hz * reach / BIN_HZ) + 2
            peak = low + int(np.argmax(spectrum[low:high]))
            left, mid, right = np.log(np.maximum(spectrum[peak - 1 : peak + 2], 1e-12))
            shift = np.clip(0.5 * (left - right) / min(left - 2.0 * mid + right, -1e-9), -0.5, 0.5)
            off_cents.append(1200.0 * np.log2((peak + shift) * BIN_HZ / (number * hz)))
            levels.append(np.exp(mid))
            own += float(np.sum(spectrum[peak - LOBE_BINS : peak + LOBE_BINS + 1] ** 2))
        all_of_it = float(np.sum(spectrum[int(LOWEST_HZ / BIN_HZ) :] ** 2))
        if levels[0] < LEAST_FIRST * max(levels) or own < LEAST_OWN * all_of_it:
            return np.nan
        weights = (np.array(levels) * np.arange(1, len(levels) + 1)) ** 2
        return midi_of(hz) + float(np.average(off_cents, weights=weights)) / 100.0
