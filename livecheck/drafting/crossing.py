"""Tracks that have changed strings: tracks in, the same with each string's own parts out.

Where two strings come close while the bar moves, their tracks may go on with each other's string. Nothing in the sound
tells that, but the hands do: both strings lie under one bar, and pedals take them but a little apart or together.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.track import Track

PEDALS = 2.5
"""Semitones by which pedals and levers change how far apart two strings are."""


def uncrossed(tracks: Sequence[Track], midis: Sequence[float]) -> list[Track]:
    """Tracks of the same frames, and where each began, MIDI numbers."""
    found = list(tracks)
    for one, other in combinations(range(len(found)), 2):
        swapped = _swapped(found[one].midis - found[other].midis, midis[one] - midis[other])
        if swapped.any():
            found[one], found[other] = (
                found[one].changed_for(found[other], swapped),
                found[other].changed_for(found[one], swapped),
            )
    return found


def _swapped(apart: NDArray[np.float64], began: float) -> NDArray[np.bool_]:
    """On which frames two tracks are each other's: the way of least change, as far as pedals cannot make it."""
    costs = np.array([np.maximum(np.abs(sign * apart - began) - PEDALS, 0.0) for sign in (1.0, -1.0)])
    change = 2.0 * np.abs(np.append(apart[:1], 0.5 * (apart[1:] + apart[:-1])))
    total = costs[:, 0] + np.array([0.0, change[0]])
    came = np.zeros((2, len(apart)), dtype=np.int64)
    for frame in range(1, len(apart)):
        moved = total[::-1] + change[frame]
        came[:, frame] = np.where(total <= moved, (0, 1), (1, 0))
        total = np.minimum(total, moved) + costs[:, frame]
    path = np.empty(len(apart), dtype=np.int64)
    path[-1] = int(total[1] < total[0])
    for frame in range(len(apart) - 1, 0, -1):
        path[frame - 1] = came[path[frame], frame]
    return np.asarray(path == 1)
