"""The sound at an onset as if the bar stood still.

Strings under a bar on its way change pitch together, and so much in one frame that their partials blur. Played at a
speed that follows the bar each keeps its pitch. Published as the fan-chirp transform (Weruaga and Képesi, "The
fan-chirp transform for non-stationary harmonic signals", Signal Processing 87, 2007), for glides that are straight in
frequency; here time is stretched by the way that the strings which were ringing already have gone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.moment import AFTER_S, BEFORE_S, Moment
from livecheck.hearing.onset import Onset
from livecheck.hearing.partials import Peaks
from livecheck.hearing.recording import Recording
from livecheck.hearing.resample import WORK_RATE_HZ
from livecheck.hearing.spectrum import magnitudes_of

AROUND_S = 0.25
"""So far to each side lies all that a fast glide can stretch into the two frames."""
WAY_S = np.linspace(-0.2, 0.2, 41)
"""The times around an onset at which the way of a string is read."""
FINER = 4
"""Times as many samples, between which straight lines are good enough."""


def straightened(
    recording: Recording, onset: Onset, times_s: NDArray[np.float64], bar: NDArray[np.float64], window: int
) -> Moment:
    """The frames just before and just after an onset, at the pitches that strings have where `bar` is 0.

    `bar`: semitones by which they are above that, at some times around the onset; shape of both (n,). `window`: samples
    of a frame. Outside the recording lies silence.
    """
    first = round((onset.time_s - AROUND_S) * WORK_RATE_HZ)
    samples = recording.slice(first, first + round(2.0 * AROUND_S * WORK_RATE_HZ))
    finer = np.fft.irfft(np.fft.rfft(samples), FINER * len(samples)) * FINER
    at_s = (first + np.arange(len(finer)) / FINER) / WORK_RATE_HZ
    speed = 2.0 ** (np.interp(at_s, times_s, bar) / 12.0)
    stretched_s = np.cumsum(speed) / (FINER * WORK_RATE_HZ)
    stretched_s += onset.time_s - np.interp(onset.time_s, at_s, stretched_s)
    frame_s = (np.arange(window) - window // 2) / WORK_RATE_HZ
    frames = [np.interp(onset.time_s + off_s + frame_s, stretched_s, finer) for off_s in (-BEFORE_S, AFTER_S)]
    before, after = magnitudes_of(np.concatenate(frames).astype(np.float32), window, window)
    return Moment(onset, before, after, Peaks.of(after, WORK_RATE_HZ / window))
