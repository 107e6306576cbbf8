"""A passage of a take that seems to be one figure: the player's way through it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.salience import HOP_S

SAME_BEAT = 0.02


@dataclass(frozen=True)
class Passage:
    """One figure as it was found in the take: when the player was at which beat."""

    figure: int
    """Index among the expectations."""
    times_s: NDArray[np.float64]
    beats: NDArray[np.float64]
    """The beat reached at each time; never falling."""
    support: float
    """Mean support per frame; `follow.NEEDED` or less is no better than chance."""
    doubtful: bool = False
    """Found by a forgiving follower only."""

    def dwelt_s(self, beat: float) -> float:
        """How long the player seemed to stay at a beat."""
        return float((np.abs(self.beats - beat) < SAME_BEAT).sum()) * HOP_S

    def time_of(self, beat: float) -> float:
        """When a beat was reached, in seconds."""
        at = int(np.searchsorted(self.beats, beat - 1e-9))
        if at >= len(self.beats):
            return float(self.times_s[-1])
        if at == 0 or self.beats[at] == self.beats[at - 1]:
            return float(self.times_s[at])
        share = (beat - self.beats[at - 1]) / (self.beats[at] - self.beats[at - 1])
        return float(self.times_s[at - 1] + share * (self.times_s[at] - self.times_s[at - 1]))
