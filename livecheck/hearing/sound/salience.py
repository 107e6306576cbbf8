"""Which pitches a moment of sound supports: harmonic sums on a grid of ten cents.

A row has one value for each pitch of `GRID_MIDI`. The spectrum is compressed by its square root, freed of its local
floor, laid on a logarithmic frequency axis, and eight harmonics are added, each weighted 0.8 times the one before. The
method is harmonic summation (Klapuri, "Multiple fundamental frequency estimation by summing harmonic amplitudes",
ISMIR 2006) with fixed weights.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.lesson.pitch import hz_of

LOWEST_MIDI, HIGHEST_MIDI = 31.0, 94.0
STEPS_A_SEMITONE = 10
GRID_MIDI = np.arange(round((HIGHEST_MIDI - LOWEST_MIDI) * STEPS_A_SEMITONE) + 1) / STEPS_A_SEMITONE + LOWEST_MIDI
HARMONICS = 8
WEIGHTS = 0.8 ** np.arange(HARMONICS)
WINDOW = 2048
HOP = 480
HOP_S = HOP / WORK_RATE_HZ
FLOOR_BINS = 24
"""Half-width of the neighbourhood whose mean is the local floor, in bins (280 Hz)."""

FRAMES_AT_ONCE = 32
"""Computed together: what lies between them and the result stays in a processor's cache."""

_SHIFTS = np.rint(12 * STEPS_A_SEMITONE * np.log2(np.arange(1, HARMONICS + 1))).astype(int)
_AXIS_HZ = np.array([hz_of(LOWEST_MIDI + i / STEPS_A_SEMITONE) for i in range(len(GRID_MIDI) + _SHIFTS[-1])])
_AXIS_BINS = np.minimum(_AXIS_HZ * WINDOW / WORK_RATE_HZ, WINDOW // 2 - 1.001)
_LOW = _AXIS_BINS.astype(int)
_PART = (_AXIS_BINS - _LOW).astype(np.float32)


def grid_index(midi: NDArray[np.float64] | float) -> NDArray[np.int64]:
    """The grid's nearest index to a pitch, kept within the grid."""
    index = np.rint((np.asarray(midi) - LOWEST_MIDI) * STEPS_A_SEMITONE)
    return np.clip(index, 0, len(GRID_MIDI) - 1).astype(np.int64)


def compressed(magnitudes: NDArray[np.float32], out: NDArray[np.float32] | None = None) -> NDArray[np.float32]:
    """Square root of the magnitudes minus its local mean, not below zero; same shape. `out`: where to put it."""
    clean = np.empty_like(magnitudes) if out is None else out
    width, size = 2 * FLOOR_BINS + 1, magnitudes.shape[1]
    padded = np.zeros((min(FRAMES_AT_ONCE, len(magnitudes)), size + width - 1), dtype=np.float32)
    floor = np.empty_like(padded)
    for first in range(0, len(magnitudes), FRAMES_AT_ONCE):
        root = np.sqrt(magnitudes[first : first + FRAMES_AT_ONCE])
        count = len(root)
        padded[:count, FLOOR_BINS:-FLOOR_BINS] = root
        # The rows as one, end to end: the nothing between them is as wide as what is summed.
        sums = _sums(padded[:count].reshape(-1), width)
        np.divide(sums, np.float32(width), out=floor.reshape(-1)[: len(sums)])
        here = floor[:count, :size]
        np.subtract(root, here, out=here)
        np.maximum(here, 0.0, out=clean[first : first + count])
    return clean


def _sums(values: NDArray[np.float32], width: int) -> NDArray[np.float32]:
    """Sums of so many neighbours, at each value that has as many after it: from sums of 2, of 4, of 8 and so on, which
    loses nothing in single precision."""
    count = len(values) - width + 1
    total = np.zeros(count, dtype=np.float32)
    begin, run = 0, 1
    while True:
        if width & run:
            total += values[begin : begin + count]
            begin += run
        if begin == width:
            return total
        values = values[:-run] + values[run:]
        run *= 2


def salience(clean: NDArray[np.float32]) -> NDArray[np.float32]:
    """Rows of harmonic sums, shape (frames, len(GRID_MIDI)), of `compressed` spectra of `WINDOW` samples."""
    axis = clean.take(_LOW, axis=1)
    axis *= 1.0 - _PART
    axis += clean.take(_LOW + 1, axis=1) * _PART
    total = np.zeros((len(clean), len(GRID_MIDI)), dtype=np.float32)
    for shift, weight in zip(_SHIFTS, WEIGHTS, strict=True):
        total += np.float32(weight) * axis[:, shift : shift + len(GRID_MIDI)]
    return total
