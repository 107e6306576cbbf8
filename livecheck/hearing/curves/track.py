"""One string's pitch and level through time, and how they are read off its partials near a path."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.partials import GUARD_BINS, hz
from livecheck.hearing.sound.spectrum import Spectrogram

PARTIALS = 8
WEIGHTS = 0.8 ** np.arange(PARTIALS)
UNKNOWN_DB = -140.0
REFINE_PARTIALS = 6
REFINE_CENTS = 45.0
ALL_BUT_UNISON = 0.9
"""Semitones to which tracks of two strings in unison may be driven apart, each finding its partials taken."""
NOISE_BINS = np.concatenate((np.arange(-14, -3), np.arange(4, 15)))
"""Around a partial, beyond its main lobe, where the noise is looked for that it lies in."""
NOISE_SHARE, NOISE_DB = 0.3, 14.0
"""What so many of these bins lie below is noise, whatever other strings have there; and how far above that the highest
of thirty bins, those of six partials, comes in one frame of sixty of mere noise (Rayleigh's distribution)."""
SURE_SUPPORT = 0.7
"""Of a string that is so clearly there the noise need not be asked."""


@dataclass(frozen=True)
class Track:
    """One string's pitch and level on the frames of a spectrogram; NaN outside its life. Arrays of one length."""

    first: int
    midis: NDArray[np.float64]
    """Refined pitch."""
    db: NDArray[np.float64]
    """Level of its free partials, the mean of their powers; `UNKNOWN_DB` where none is free."""
    middle_db: NDArray[np.float64]
    """Level of the middle one of its free partials: no single partial of another string holds it up."""
    partials_db: NDArray[np.float64]
    """Level of each of its first partials, shape (n, `REFINE_PARTIALS`); NaN where another string has one there."""
    support: NDArray[np.float64]
    """How much of what its pitch calls for is there, 0 to 1."""
    standing: NDArray[np.float64]
    """1 where one of its free partials stands out of the noise, -1 where none does, 0 where none is free."""

    @property
    def stop(self) -> int:
        return self.first + len(self.midis)

    def holds(self, frame: int, around: int) -> bool:
        """Whether it has a frame and so many to each side."""
        return self.first <= frame - around and frame + around < self.stop

    def changed_for(self, other: Track, chosen: NDArray[np.bool_]) -> Track:
        """The same with another track of the same frames on some of them; `chosen`: which, shape (n,)."""
        return replace(
            self,
            midis=np.where(chosen, other.midis, self.midis),
            db=np.where(chosen, other.db, self.db),
            middle_db=np.where(chosen, other.middle_db, self.middle_db),
            partials_db=np.where(chosen[:, None], other.partials_db, self.partials_db),
            support=np.where(chosen, other.support, self.support),
            standing=np.where(chosen, other.standing, self.standing),
        )


def refined(
    spectra: Spectrogram,
    firsts: Sequence[int],
    paths: Sequence[NDArray[np.float64]],
    others: Sequence[Sequence[NDArray[np.float64]]],
) -> list[Track]:
    """Interpolated partials near each of some paths, which begin at some frames, combined by their accuracy into one
    pitch a frame; `others`: for each the other strings' frequencies on its frames, in Hz.

    All frames of all paths are worked out together, each by itself.
    """
    if not paths:
        return []
    stops = np.cumsum([len(path) for path in paths]).tolist()
    low, high = min(firsts), max(first + len(path) for first, path in zip(firsts, paths, strict=True))
    frames = np.concatenate([np.arange(len(path)) + first - low for first, path in zip(firsts, paths, strict=True)])
    every = np.full((max(map(len, others)), stops[-1]), np.nan)
    for stop, tones in zip(stops, others, strict=True):
        for row, tone in zip(every, tones, strict=False):
            row[stop - len(tone) : stop] = tone
    values = _refined(spectra.rows(low, high), frames, np.concatenate(paths), list(every), spectra.bin_hz)
    parts = zip(*(np.split(value, stops[:-1]) for value in values), strict=True)
    return [Track(first, *part) for first, part in zip(firsts, parts, strict=True)]


def _refined(
    magnitudes: NDArray[np.float32],
    frames: NDArray[np.int64],
    path: NDArray[np.float64],
    others: Sequence[NDArray[np.float64]],
    bin_hz: float,
) -> tuple[NDArray[np.float64], ...]:
    """The arrays of a `Track` for a path through some frames, NaN among the others' frequencies where one does not
    sound."""
    numbers = np.arange(1, REFINE_PARTIALS + 1)
    targets = hz(path)[:, None] * numbers
    free = free_of_others(targets, others, bin_hz)
    centre = np.clip(np.rint(targets / bin_hz).astype(int), 3, magnitudes.shape[1] - 4)
    at = centre + magnitudes.shape[1] * frames[:, None]
    around = magnitudes.take(at[:, :, None] + np.arange(-3, 4))
    peak = 1 + np.argmax(around[:, :, 1:-1], axis=2)
    at += peak - 3
    left, mid, right = (np.log(np.maximum(magnitudes.take(at + d), 1e-9)) for d in (-1, 0, 1))
    bend = np.minimum(left - 2.0 * mid + right, -1e-9)
    found = (centre + peak - 3 + np.clip(0.5 * (left - right) / bend, -0.6, 0.6)) * bin_hz
    off_cents = 1200.0 * np.log2(np.maximum(found, 1.0) / targets)
    valley = np.maximum(around.min(axis=2), 1e-9)
    clear = np.clip((mid - np.log(valley)) / 2.5 - 0.4, 0.0, 1.0)
    inside = np.abs(off_cents) < np.maximum(REFINE_CENTS, 1731.0 * 0.5 * bin_hz / targets)
    inside &= _is_nearest(found, targets, others)
    accuracy = 1.0 / np.hypot(4.0, 1731.0 * 0.05 * bin_hz / targets) ** 2
    level = np.exp(mid)
    weight = free * inside * clear * accuracy * np.sqrt(level / np.maximum(level.max(axis=1, keepdims=True), 1e-9))
    some = weight.sum(axis=1)
    middle = _weighted_median(off_cents, weight)
    near = weight * (np.abs(off_cents - middle[:, None]) < 15.0)
    mean = (near * off_cents).sum(axis=1) / np.maximum(near.sum(axis=1), 1e-12)
    midis = np.where(some > 0.0, path + mean / 100.0, path)
    power = (free * level**2).sum(axis=1) / np.maximum(free.sum(axis=1), 1)
    db = 10.0 * np.log10(np.maximum(power, 10.0 ** (UNKNOWN_DB / 10.0)))
    partials_db = 20.0 * mid / np.log(10.0)
    middle_db = np.where(free.any(axis=1), _weighted_median(partials_db, free.astype(np.float64)), UNKNOWN_DB)
    partials_db = np.where(free, partials_db, np.nan)
    support = (free * clear * inside * WEIGHTS[:REFINE_PARTIALS]).sum(axis=1)
    support /= np.maximum((free * WEIGHTS[:REFINE_PARTIALS]).sum(axis=1), 1e-9)
    standing = np.where(free.any(axis=1), 1.0, 0.0)
    weak = np.flatnonzero((support < SURE_SUPPORT) & (standing > 0.0))
    loud = level[weak] > _noise(magnitudes, at[weak]) * 10.0 ** (NOISE_DB / 20.0)
    standing[weak] = np.where((loud & (free & inside & (clear > 0.0))[weak]).any(axis=1), 1.0, -1.0)
    return midis, db, middle_db, partials_db, support, standing


def free_of_others(
    targets: NDArray[np.float64], others: Sequence[NDArray[np.float64]], bin_hz: float
) -> NDArray[np.bool_]:
    """Where no other string has a partial near the target frequencies; targets (frames or 1, n) -> (frames, n)."""
    frames = len(others[0]) if others else len(targets)
    free = np.ones((frames, targets.shape[1]), dtype=bool)
    for other in others:
        f0 = other[:, None]
        off = targets / f0
        np.rint(off, out=off)
        np.maximum(off, 1.0, out=off)
        off *= f0
        np.subtract(targets, off, out=off)
        np.abs(off, out=off)
        free &= ~(off < GUARD_BINS * bin_hz)
    return free


def _is_nearest(
    found: NDArray[np.float64], targets: NDArray[np.float64], others: Sequence[NDArray[np.float64]]
) -> NDArray[np.bool_]:
    """Whether what was found lies nearer to where a string has its partials than to any of another string's, which is
    loud enough to be found at the edge of where one looks; what is all but in unison has the same ones. Shape
    (frames, n)."""
    off = np.abs(found - targets)
    nearest = np.ones(found.shape, dtype=bool)
    for other in others:
        f0 = other[:, None]
        unison = np.abs(np.log2(targets[:, :1] / f0)) < ALL_BUT_UNISON / 12.0
        nearest &= ~(np.abs(found - np.maximum(np.rint(found / f0), 1.0) * f0) < off) | unison
    return nearest


def _noise(magnitudes: NDArray[np.float32], at: NDArray[np.int64]) -> NDArray[np.float32]:
    """The noise around some places in all magnitudes, as a magnitude; same shape. What would lie beyond an edge of a
    spectrum, in the frame before or after, is looked for further out on the other side."""
    around = (at % magnitudes.shape[1])[:, :, None] + NOISE_BINS
    beyond = (around < 0).astype(int) - (around >= magnitudes.shape[1])
    around = magnitudes.take(at[:, :, None] + NOISE_BINS + beyond * (NOISE_BINS[-1] - NOISE_BINS[0] + 1))
    place = round(NOISE_SHARE * len(NOISE_BINS))
    return np.partition(around, place, axis=2)[:, :, place]


def _weighted_median(values: NDArray[np.float64], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Row by row; shape (rows, n) -> (rows,)."""
    order = np.argsort(values, axis=1)
    rows = np.arange(len(values))
    summed = np.cumsum(weights[rows[:, None], order], axis=1)
    middle = np.argmax(summed >= 0.5 * summed[:, -1:], axis=1)
    return np.asarray(values[rows, order[rows, middle]])
