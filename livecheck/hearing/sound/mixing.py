"""Sums and differences of strings that ring together, which an overdriven amplifier or a clipped recording adds.

A curved transfer function gives two tones f and g every a f ± b g as well (intermodulation; any text on nonlinear
distortion, such as Zölzer, "DAFX", 2nd edition, chapter 4). They are as clear as partials are, rise with them, and
belong to no string. MIDI numbers in; Hz out.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations, product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.partials import PARTIALS, Peaks, hz

LOWEST_HZ, HIGHEST_HZ = 70.0, 6000.0
ORDER, CLEAREST_ORDER = 4, 3
"""How many tones go into a mixture at most; up to the second where only the clearest are asked for."""
OWN_BINS = 3.5
"""A mixture so near to a partial tells nothing."""
NEAR_BINS = 0.6
FEWEST = 4
MIXED = 0.3
"""Of one figure: in driven sound most mixtures are there, in clean sound up to a fifth, seldom more."""


class Chord(NamedTuple):
    """Strings that sound together from a time on."""

    time_s: float
    midis: tuple[float, ...]


def mixtures(midis: Sequence[float], order: int = ORDER) -> NDArray[np.float64]:
    """The sums and differences of two or three strings' lowest partials."""
    strings_hz = hz(np.asarray(midis, dtype=np.float64))
    found = np.concatenate(
        [np.abs(_coefficients(count, order) @ strings_hz[list(some)]) for count in (2, 3)
         for some in combinations(range(len(strings_hz)), count)] or [np.empty(0)]
    )  # fmt: skip
    return np.array(sorted(set(found[(found > LOWEST_HZ) & (found < HIGHEST_HZ)].round(3).tolist())))


@lru_cache(maxsize=8)
def _coefficients(count: int, order: int) -> NDArray[np.float64]:
    """Whole numbers other than 0 for each of some strings, the first positive, their sizes no more than an order
    together."""
    rows = [
        row
        for row in product(range(-order, order + 1), repeat=count)
        if row[0] > 0 and all(row) and sum(abs(a) for a in row) <= order
    ]
    return np.array(rows, dtype=np.float64).reshape(-1, count)


def clearest(midis: Sequence[float], bin_hz: float) -> NDArray[np.float64]:
    """The mixtures of some strings that are clearest, those that lie away from all their partials."""
    partials = (hz(np.asarray(midis, dtype=np.float64))[:, None] * np.arange(1, PARTIALS + 5)).ravel()
    mixed = mixtures(midis, CLEAREST_ORDER)
    return np.asarray(mixed[np.abs(mixed[:, None] - partials).min(axis=1, initial=np.inf) > OWN_BINS * bin_hz])


def clearness(spectra: Sequence[tuple[Peaks, Sequence[float]]]) -> list[float]:
    """How clearly each mixture is there, 0 to 1, that lies away from all partials; of spectra, each with the strings
    that were struck at that moment."""
    clear: list[float] = []
    for there, midis in spectra:
        away = clearest(midis, there.bin_hz)
        if len(there.hz):
            nearest = np.abs(away[:, None] - there.hz).argmin(axis=1)
            is_near = np.abs(away - there.hz[nearest]) < NEAR_BINS * there.bin_hz
            clear += np.where(is_near, there.weight[nearest], 0.0).tolist()
    return clear


class Clearness:
    """How clearly strings mix in the passages of a take: of each, how many mixtures there might be, and the sum of how
    clearly they are there."""

    def __init__(self) -> None:
        self._of: dict[float, tuple[int, float]] = {}
        self._chords: dict[float, Sequence[Chord]] = {}

    def learn(self, from_s: float, clear: Sequence[float], chords: Sequence[Chord] = ()) -> None:
        """What was found of the passage that begins at a time; it replaces what was found of it before. `chords`: where
        it was found."""
        self._of[from_s] = len(clear), float(np.sum(clear))
        self._chords[from_s] = chords

    @property
    def chords(self) -> list[Chord]:
        """Where strings were struck together in the take, in order."""
        return [chord for _, chords in sorted(self._chords.items()) for chord in chords]

    @property
    def is_mixed(self) -> bool:
        """Whether the sound of the take is mixed: what is soft is bent little, and of some strings all mixtures lie
        where nothing is heard of them, so that the clearer half of all tells."""
        count = sum(count for count, _ in self._of.values())
        left, clearest = 0.5 * count, 0.0
        for many, clear in sorted(self._of.values(), key=lambda one: -one[1] / max(1, one[0])):
            taken = min(float(many), left)
            clearest += clear * taken / max(1, many)
            left -= taken
        return count >= FEWEST and clearest > MIXED * 0.5 * count
