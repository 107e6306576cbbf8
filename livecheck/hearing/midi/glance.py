"""Coarse observations of MIDI notes: the same glances that the ear for audio gives, so that the follower knows no
source."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.sound.ear import NEAR_CENTS, Glance
from livecheck.hearing.sound.salience import GRID_MIDI, HOP_S, STEPS_A_SEMITONE, grid_index

FRAMES = 256
FULL_PURITY = 0.25
"""What all notes of a clean recording account for together, about."""
_NEAR = NEAR_CENTS * STEPS_A_SEMITONE // 100


def glances_of(notes: Sequence[HeardNote], from_s: float = 0.0, until_s: float = math.inf) -> Iterator[Glance]:
    """Glances from one time to another or to the end of the last note, the first at `from_s` or just before it."""
    end_s = max((note.end_s for note in notes), default=0.0)
    stop = int(min(end_s + HOP_S, max(until_s, 0.0)) / HOP_S) + 1
    for first in range(int(max(from_s, 0.0) / HOP_S), stop, FRAMES):
        yield _glance(notes, first, min(FRAMES, stop - first))


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
