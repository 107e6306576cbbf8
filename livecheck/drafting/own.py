"""How much begins at once in the partials of some pitches, whatever else sounds: short spectra, their bins alone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.partials import hz
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.spectrum import magnitudes_of

WINDOW, HOP = 512, 128
HOP_S = HOP / WORK_RATE_HZ
BACK_FRAMES = 2
"""The rise is taken against the frame so many hops earlier (10.7 ms)."""
PARTIALS = 12
LOWEST_BIN = 3


def own_rises(recording: Recording, start_s: float, stop_s: float, midis: Sequence[float]) -> NDArray[np.float64]:
    """Share of what sounds in the partials of these pitches that is new, 0 to 1, every `HOP_S` from `start_s` on."""
    targets = hz(np.array(midis))[:, None] * np.arange(1, PARTIALS + 1) * WINDOW / WORK_RATE_HZ
    bins = np.unique(np.rint(targets).astype(int))
    bins = bins[(bins >= LOWEST_BIN) & (bins < WINDOW // 2 - 1)]
    count = int((stop_s - start_s) / HOP_S + 1e-3) + 1
    first = round(start_s * WORK_RATE_HZ) - BACK_FRAMES * HOP - WINDOW // 2
    samples = recording.slice(first, first + (count + BACK_FRAMES - 1) * HOP + WINDOW)
    root = np.sqrt(magnitudes_of(samples, WINDOW, HOP)[:, bins].astype(np.float64))
    new = np.maximum(root[BACK_FRAMES:] - root[:-BACK_FRAMES], 0.0).sum(axis=1)
    return np.asarray(new / (root[BACK_FRAMES:].sum(axis=1) + 1e-9))
