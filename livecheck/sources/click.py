"""The click: short tones on the beats, as samples.

In: a tempo, a meter, how many beats, a level. Out: mono float32, full scale 1. Each click begins on its beat to the
sample, and is the same wherever its beat falls: a tone that dies away within 50 ms, higher on the first beat of a bar.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

LEVEL_DB = -20.0
"""Below full scale, at the peak: low, to be turned up by whoever needs more."""
LOUDEST_DB = -3.0
FIRST_HZ, OTHER_HZ = 1568.0, 1046.5
"""G6 and C6: above a steel's fundamentals in the first octave."""
LASTS_S = 0.05
FADES_S = 0.008
"""After each of these it has fallen to 1/e."""
RULER = (0, 1, 4, 9, 15, 22, 32, 34)
RULER_S = 0.1
"""Times of the clicks that measure how long sound takes: an optimal Golomb ruler of eight marks, 3.4 s long."""
CAUTION = (
    "take care: start with monitors and headphones turned down (WHO-ITU H.870: at most 80 dB(A) for 40 hours a week; "
    "NIOSH 98-126: 85 dB(A) for 8 hours a day), rest often, and stop when something hurts"
)


def click(hz: float, rate_hz: int, level_db: float = LEVEL_DB) -> NDArray[np.float32]:
    """One click."""
    times_s = np.arange(round(LASTS_S * rate_hz)) / rate_hz
    shape = np.exp(-times_s / FADES_S) * np.minimum(1.0, (LASTS_S - times_s) / 0.005)
    tone = shape * np.cos(2.0 * np.pi * hz * times_s)
    return np.asarray(10.0 ** (min(level_db, LOUDEST_DB) / 20.0) * tone, dtype=np.float32)


def beat_frames(beats: int, tempo: float, rate_hz: int) -> list[int]:
    """The frame on which each beat begins, the first at 0."""
    return [round(beat * 60.0 / tempo * rate_hz) for beat in range(beats)]


def ruler(rate_hz: int, level_db: float = LEVEL_DB) -> NDArray[np.float32]:
    """Clicks no two of which are equally far apart, to be found again wherever they come back."""
    one = click(FIRST_HZ, rate_hz, level_db)
    frames = [round(mark * RULER_S * rate_hz) for mark in RULER]
    out = np.zeros(frames[-1] + len(one), dtype=np.float32)
    for frame in frames:
        out[frame : frame + len(one)] += one
    return out


def clicks(beats: int, tempo: float, beats_a_bar: int, rate_hz: int, level_db: float = LEVEL_DB) -> NDArray[np.float32]:
    """So many beats of a click, the first one of a bar; it lasts until the beat after the last."""
    out = np.zeros(max(round(beats * 60.0 / tempo * rate_hz), 1), dtype=np.float32)
    for beat, frame in enumerate(beat_frames(beats, tempo, rate_hz)):
        one = click(OTHER_HZ if beat % beats_a_bar else FIRST_HZ, rate_hz, level_db)[: len(out) - frame]
        out[frame : frame + len(one)] += one
    return out
