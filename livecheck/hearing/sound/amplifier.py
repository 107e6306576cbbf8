"""A driven amplifier's bend, taken off a recording.

An amplifier that is driven bends all waves towards a ceiling and a floor, which gives the sums and differences of the
strings that sound together (`mixing.py`). Where it bends softly each sample has come from one other, so that the bend
can be undone sample by sample. The ceiling and the floor lie a little outside the loudest samples of a take that was
driven; how far, and of which of the usual shapes the bend is (Zölzer, "DAFX", 2nd edition, chapter 4; Pakarinen and
Yeh, "A review of digital techniques for modeling vacuum-tube guitar amplifiers", Computer Music Journal 33, 2009), the
mixtures tell: what undoes the bend takes them away.

In goes a take, with the strings that were struck together in it; out comes the take as it was before the amplifier.
What was cut off hard, or filtered much since, keeps its mixtures whatever is tried, and is left as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.mixing import Chord, clearest
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.spectrum import loudest_near, magnitudes_of

Samples = NDArray[np.float64]

WINDOW = 2048
AFTER_S = (0.07, 0.11)
"""When after a stroke it is listened to: the attack itself is no tone."""
BLOCK = 1 << 16
SHAPES: tuple[Callable[[Samples], Samples], ...] = (
    np.arctanh,
    lambda share: np.tan(0.5 * np.pi * share),
    lambda share: share / np.sqrt(1.0 - share * share),
    lambda share: share / (1.0 - np.abs(share)),
)
"""What undoes tanh x, (2 / pi) arctan x, x / sqrt(1 + x^2) and x / (1 + |x|)."""
ROOMS = (0.001, 0.003, 0.01, 0.03, 0.1, 0.3)
"""How far outside the loudest samples the ceiling and the floor may lie, as a share; below, a sample's rounding counts
as much as the rest of it."""
MOST_DRIVEN = 12.0
"""How many times what begins to be bent goes in at most, about 20 dB: further up a curve so little is left of what went
in that anything may be made of it."""
MOST_CHORDS = 8
"""Those of a take that are mixed most tell enough."""
FAINTEST = 1e-4
ONE_SIDED = 1e-6
"""Of how far samples go to one side: what goes no further than that to the other has no floor there, only rounding."""
LEAST_DB = 6.0
"""What undoes the bend leaves so much less of the mixtures at least: where none does, as of sound that was cut off,
others than the right one leave up to 4 dB less, the right one 10 to 19 dB."""


@dataclass(frozen=True)
class Amplifier:
    """What a take was played through."""

    floor: float
    ceiling: float
    """The samples that it never quite reached."""
    shape: Callable[[Samples], Samples]
    """What undoes its bend, of samples -1 to 1 between the floor and the ceiling."""

    @classmethod
    def in_take(cls, recording: Recording, chords: Sequence[Chord]) -> Amplifier | None:
        """The amplifier that the mixtures of a take speak for; None if they speak for none."""
        sounds = _most_mixed(recording, chords)
        low, high = _extremes(recording)
        if not sounds or min(-low, high) <= ONE_SIDED * max(-low, high):
            return None

        def left_db(one: Amplifier) -> float:
            return _mean_db((mixed_hz, one.undone(samples)) for mixed_hz, samples in sounds)

        def likeliest(some: Iterable[Amplifier]) -> Amplifier:
            return min((one for one in some if one.driven(low, high) <= MOST_DRIVEN), key=left_db)

        best = likeliest(cls(low * (1.0 + room), high * (1.0 + room), shape) for shape in SHAPES for room in ROOMS)
        best = likeliest(replace(best, floor=low * (1.0 + room)) for room in ROOMS)
        best = likeliest(replace(best, ceiling=high * (1.0 + room)) for room in ROOMS)
        return best if left_db(best) < _mean_db(sounds) - LEAST_DB else None

    def undone(self, samples: NDArray[np.float32]) -> NDArray[np.float32]:
        """Some samples as they were before the amplifier, about as loud where they are soft; same shape."""
        half = 0.5 * (self.ceiling - self.floor)
        return np.asarray(half * self._straight(samples.astype(np.float64)), dtype=np.float32)

    def driven(self, low: float, high: float) -> float:
        """How many times what begins to be bent went in, if these are the lowest and the highest sample."""
        return float(np.abs(self._straight(np.array([low, high]))).max())

    def taken_off(self, recording: Recording) -> Iterator[NDArray[np.float32]]:
        """The recording as it was before the amplifier, as long as it was, piece by piece."""
        for start in range(0, len(recording), BLOCK):
            yield self.undone(recording.slice(start, min(start + BLOCK, len(recording))))

    def _straight(self, samples: Samples) -> Samples:
        """Some samples as they were, in units of what begins to be bent; same shape."""
        middle, half = 0.5 * (self.ceiling + self.floor), 0.5 * (self.ceiling - self.floor)
        return self.shape((samples - middle) / half) - self.shape(np.array(-middle / half))


def _extremes(recording: Recording) -> tuple[float, float]:
    """The lowest and the highest sample; 0 where there is none."""
    lows, highs = [0.0], [0.0]
    for start in range(0, len(recording), BLOCK):
        block = recording.slice(start, min(start + BLOCK, len(recording)))
        lows.append(float(block.min()))
        highs.append(float(block.max()))
    return min(lows), max(highs)


def _most_mixed(recording: Recording, chords: Sequence[Chord]) -> list[tuple[NDArray[np.float64], NDArray[np.float32]]]:
    """The mixtures of the chords whose are loudest, each with the samples after it, shape (frames, WINDOW)."""
    told = []
    for chord in {chord.time_s: chord for chord in chords}.values():
        mixed_hz, samples = clearest(chord.midis, WORK_RATE_HZ / WINDOW), _after(recording, chord)
        if levels_db := _mixed_db(mixed_hz, samples):
            told.append((float(np.mean(levels_db)), mixed_hz, samples))
    return [(mixed_hz, samples) for _, mixed_hz, samples in sorted(told, key=lambda one: -one[0])[:MOST_CHORDS]]


def _after(recording: Recording, chord: Chord) -> NDArray[np.float32]:
    """The samples just after some strings were struck, shape (frames, WINDOW)."""
    firsts = [round((chord.time_s + after_s) * WORK_RATE_HZ) - WINDOW // 2 for after_s in AFTER_S]
    return np.stack([recording.slice(first, first + WINDOW) for first in firsts])


def _mixed_db(mixed_hz: NDArray[np.float64], samples: NDArray[np.float32]) -> list[float]:
    """Level of each of some mixtures beside the loudest partial, in each frame."""
    spectra = magnitudes_of(samples.ravel(), WINDOW, WINDOW)
    level = loudest_near(spectra, mixed_hz, WORK_RATE_HZ / WINDOW)
    share = level / np.maximum(spectra.max(axis=1, keepdims=True), 1e-9)
    return [float(db) for db in 20.0 * np.log10(np.maximum(share, FAINTEST)).ravel()]


def _mean_db(sounds: Iterable[tuple[NDArray[np.float64], NDArray[np.float32]]]) -> float:
    return float(np.mean([level_db for mixed_hz, samples in sounds for level_db in _mixed_db(mixed_hz, samples)]))
