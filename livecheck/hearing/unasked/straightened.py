"""The sound at an onset as if the bar stood still.

Strings under a bar on its way change pitch together, and so much in one frame that their partials blur. Played at a
speed that follows the bar each keeps its pitch. Published as the fan-chirp transform (Weruaga and Képesi, "The
fan-chirp transform for non-stationary harmonic signals", Signal Processing 87, 2007), for glides that are straight in
frequency; here time is stretched by the way that the strings which were ringing already have gone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.moment import AFTER_S, BEFORE_S, Moment
from livecheck.hearing.sound.onset import HOP, Onset, rises
from livecheck.hearing.sound.partials import Peaks
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.spectrum import magnitudes_of

AROUND_S = 0.25
"""So far to each side lies all that a fast glide can stretch into the two frames."""
WAY_S = np.linspace(-0.2, 0.2, 41)
"""The times around an onset at which the way of a string is read."""
NEAR_S = 0.08
"""So much to each side of an onset is looked at for how much of it is new,"""
RISING_S = (-0.02, 0.04)
"""and where in it: an onset is where the sound begins to grow."""
FINER = 4
"""Times as many samples, between which straight lines are good enough."""


def straightened(
    recording: Recording, onset: Onset, times_s: NDArray[np.float64], bar: NDArray[np.float64], window: int
) -> Moment:
    """The frames just before and just after an onset, at the pitches that strings have where `bar` is 0.

    `bar`: semitones by which they are above that, at some times around the onset; shape of both (n,). `window`: samples
    of a frame. Outside the recording lies silence.
    """
    frame_s = (np.arange(window) - window // 2) / WORK_RATE_HZ
    frames_s = onset.time_s + np.concatenate([off_s + frame_s for off_s in (-BEFORE_S, AFTER_S)])
    before, after = magnitudes_of(_stretched(recording, onset, times_s, bar, frames_s), window, window)
    return Moment(onset, before, after, Peaks.of(after, WORK_RATE_HZ / window))


def risen(recording: Recording, onset: Onset, times_s: NDArray[np.float64], bar: NDArray[np.float64]) -> float:
    """How much of the spectrum is new at an onset, 0 to 1, as `Onset.rise` is, but for what only moved; `times_s` and
    `bar` as above."""
    near_s = onset.time_s + np.arange(-NEAR_S, NEAR_S, 1.0 / WORK_RATE_HZ)
    still = Recording()
    still.append(_stretched(recording, onset, times_s, bar, near_s))
    first, stop = (round((NEAR_S + off_s) * WORK_RATE_HZ / HOP) for off_s in RISING_S)
    return float(rises(still)[first:stop].max())


def _stretched(
    recording: Recording,
    onset: Onset,
    times_s: NDArray[np.float64],
    bar: NDArray[np.float64],
    at_s: NDArray[np.float64],
) -> NDArray[np.float32]:
    """The samples at some times near an onset of a sound that is played at a speed that follows the bar; that of the
    onset stays; same shape as `at_s`."""
    first = round((onset.time_s - AROUND_S) * WORK_RATE_HZ)
    samples = recording.slice(first, first + round(2.0 * AROUND_S * WORK_RATE_HZ))
    finer = np.fft.irfft(np.fft.rfft(samples), FINER * len(samples)) * FINER
    played_s = (first + np.arange(len(finer)) / FINER) / WORK_RATE_HZ
    stretched_s = np.cumsum(2.0 ** (np.interp(played_s, times_s, bar) / 12.0)) / (FINER * WORK_RATE_HZ)
    stretched_s += onset.time_s - np.interp(onset.time_s, played_s, stretched_s)
    return np.interp(at_s, stretched_s, finer).astype(np.float32)
