"""What is looked for of one string through time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.track import Track


@dataclass(frozen=True)
class Quest:
    """What to track: frames first to stop, pitches that the string is likely to have, and where it is thought to be."""

    first: int
    stop: int
    homes: tuple[float, ...]
    """Expected settled pitches as the take sounds."""
    guess: NDArray[np.float64]
    """Expected pitch per frame of its life, shape (stop - first,), as the player's way through the figure has it."""
    written: NDArray[np.float64] | None = None
    """The same as the figure's line has it; None where there is none."""

    def meets(self, other: Quest) -> bool:
        """Whether both sound on some frame."""
        return self.first < other.stop and other.first < self.stop


def shared(one: Track | Quest, other: Track | Quest) -> tuple[slice, slice]:
    """Where each of two strings has the frames on which both sound; empty where there are none."""
    low = max(one.first, other.first)
    high = max(low, min(one.stop, other.stop))
    return slice(low - one.first, high - one.first), slice(low - other.first, high - other.first)
