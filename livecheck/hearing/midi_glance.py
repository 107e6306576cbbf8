"""Coarse observations of MIDI notes: the same glances that the ear for audio gives, so that the follower knows no
source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from livecheck.hearing.ear import NEAR_CENTS, Glance
from livecheck.hearing.heard import HeardNote
from livecheck.hearing.resample import WORK_RATE_HZ
from livecheck.hearing.salience import GRID_MIDI, HOP, STEPS_A_SEMITONE, grid_index

FRAMES = 256
FULL_PURITY = 0.25
"""What all notes of a clean recording account for together, about."""
HOP_S = HOP / WORK_RATE_HZ
_NEAR = NEAR_CENTS * STEPS_A_SEMITONE // 100


def glances_of(notes: Sequence[HeardNote]) -> Iterator[Glance]:
    """Glances from the start of the take to the end of the last note."""
    frames = int(max((note.end_s for note in notes), default=0.0) / HOP_S) + 2
    for first in range(0, frames, FRAMES):
        yield _glance(notes, first, min(FRAMES, frames - first))


def _glance(notes: Sequence[HeardNote], first: int, count: int) -> Glance:
    contrast = np.zeros((count, len(GRID_MIDI)), dtype=np.float32)
    onset = np.zeros(count, dtype=np.float32)
    sounding = np.zeros(count)
    times = (first + np.arange(count)) * HOP_S
    for note in notes:
        inside = np.flatnonzero((times >= note.start_s - HOP_S) & (times < note.end_s))
        if not len(inside):
            continue
        sounding[inside] += 1
        midis = np.interp(times[inside], note.times_s, note.midis)
        for spread in range(-_NEAR, _NEAR + 1):
            contrast[inside, np.clip(grid_index(midis) + spread, 0, len(GRID_MIDI) - 1)] = 1.0
        begun = inside[np.abs(times[inside] - note.start_s) <= HOP_S]
        onset[begun] = 1.0
    purity = (FULL_PURITY / np.maximum(sounding, 1)).astype(np.float32)
    return Glance(contrast, purity, onset, contrast.max(axis=1))
