"""Which pitches an instrument can sound at once: the intervals that some strings have under one bar.

The bar moves all strings alike, so what counts is how far apart they are, with every combination of pedals and levers
that can be held. Tempered strings are up to some thirty cents off, so an interval may be off by `SLACK_CENTS`.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from livecheck.lesson.copedent import Copedent
from livecheck.neck.neck import STEEPEST_SLANT, WIDEST_SLANT, Neck

SLACK_CENTS = 45
STEP_CENTS = 10
WIDEST = 60.0
"""Semitones."""
_SLACK = SLACK_CENTS // STEP_CENTS
_SIZE = round(WIDEST * 100) // STEP_CENTS + 2 * _SLACK + 1


class Together:
    """What one copedent can sound at once, in tables of intervals."""

    def __init__(self, copedent: Copedent) -> None:
        neck = Neck(copedent, halves=True)
        self._pairs = np.zeros(_SIZE, dtype=bool)
        self._threes = np.zeros((_SIZE, _SIZE), dtype=bool)
        opened = [[neck.open_midis(hold)[string] for string in neck.strings] for hold in neck.holds]
        for midis in opened:
            for one, other in combinations(range(len(midis)), 2):
                apart = midis[other] - midis[one]
                for slant in _slants(other - one) if neck.slants else (0.0,):
                    self._pairs[_near(abs(apart + slant))] = True
            for three in combinations(midis, 3):
                low, middle, high = sorted(three)
                self._threes[_near(middle - low), _near(high - low)] = True
        every = [midi for midis in opened for midi in midis]
        self.lowest, self.highest = min(every), max(every) + 24.0

    def pairs(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether two pitches can sound at once, the lower one first; arrays of one shape."""
        return np.asarray(self._pairs[_index(high - low)])

    def threes(
        self, low: NDArray[np.float64], middle: NDArray[np.float64], high: NDArray[np.float64]
    ) -> NDArray[np.bool_]:
        """The same of three, the lowest first."""
        return np.asarray(self._threes[_index(middle - low), _index(high - low)])


def _slants(strings: int) -> tuple[float, ...]:
    """How far a slanted bar may take two strings so far from each other apart, in semitones."""
    widest = min(WIDEST_SLANT, STEEPEST_SLANT * strings)
    return tuple(np.arange(-widest, widest + 1.0))


def _index(apart: NDArray[np.float64]) -> NDArray[np.int64]:
    return np.clip(np.rint(apart * (100 // STEP_CENTS)), 0, _SIZE - 1).astype(np.int64)


def _near(apart: float) -> slice:
    at = round(apart * 100) // STEP_CENTS
    return slice(max(at - _SLACK, 0), at + _SLACK + 1)
