"""Whether a string sounds in a spectrum, and at which pitch, given what else sounds.

Two strings share partials wherever their frequencies meet; only a string's *free* partials, those that no other string
has nearby, say anything about it. Everything here works on the peaks of one spectrum, with frequencies from a parabola
through the logarithms of three bins (Smith & Serra, "PARSHL", 1987).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from livecheck.lesson.pitch import A4_HZ, A4_MIDI

PARTIALS = 8
WEIGHTS = 0.75 ** np.arange(PARTIALS)
_NUMBERS = np.arange(1, PARTIALS + 1)
_WHOLE = WEIGHTS.sum()
GUARD_BINS = 2.3
"""Two partials closer than this melt into one peak (the Hann main lobe is two bins to each side)."""
LEAST_PROMINENCE_DB, FULL_PROMINENCE_DB = 4.0, 14.0
DEPTH_DB, FULL_DEPTH_DB = 55.0, 38.0
"""Peaks so far below the strongest one count nothing; those above the second in full."""
SPREAD_CENTS = 10.0
SPREAD_BINS = 0.15
TOP_HZ = 10_500.0
SHADOW_SEMITONES = 12.0 * np.log2(np.array([2.0, 3.0, 4.0]))
SHADOW_WIDTH = 0.45
UNISON_SEMITONES = 0.3
"""Strings no further apart are in unison: tuning and a slanted bar may part them by so much."""
_SHADOWS: tuple[float, ...] = tuple(SHADOW_SEMITONES.tolist())
NO_TONES = np.empty(0)
_ASIDE = np.arange(3, 7)


def hz(midi: NDArray[np.float64]) -> NDArray[np.float64]:
    """Frequencies of MIDI numbers; same shape."""
    return np.asarray(A4_HZ * 2.0 ** ((midi - A4_MIDI) / 12.0), dtype=np.float64)


@dataclass(frozen=True)
class Peaks:
    """The peaks of one spectrum, in order of frequency; arrays of one length."""

    hz: NDArray[np.float64]
    db: NDArray[np.float64]
    """Level, relative to a full-scale sine."""
    weight: NDArray[np.float64]
    """0 to 1: how clearly it stands out of its surroundings and of the whole."""
    bin_hz: float

    @cached_property
    def borders_hz(self) -> NDArray[np.float64]:
        """Half way from each to the next."""
        return 0.5 * (self.hz[1:] + self.hz[:-1])

    @classmethod
    def of(cls, magnitudes: NDArray[np.float32], bin_hz: float) -> Peaks:
        level = 20.0 * np.log10(np.maximum(magnitudes.astype(np.float64), 1e-9))
        inner = level[1:-1]
        at = np.flatnonzero((inner > level[:-2]) & (inner >= level[2:])) + 1
        floor = _floor_db(level, at)
        left, mid, right = level[at - 1], level[at], level[at + 1]
        bend = left - 2.0 * mid + right
        offset = 0.5 * (left - right) / np.minimum(bend, -1e-9)
        prominence = mid - floor
        depth = (mid - level.max(initial=-180.0) + DEPTH_DB) / (DEPTH_DB - FULL_DEPTH_DB)
        clear = (prominence - LEAST_PROMINENCE_DB) / (FULL_PROMINENCE_DB - LEAST_PROMINENCE_DB)
        weight = depth.clip(0.0, 1.0) * clear.clip(0.0, 1.0)
        keep = weight > 0.0
        return cls(
            ((at + offset.clip(-0.5, 0.5)) * bin_hz)[keep],
            (mid - 0.25 * (left - right) * offset)[keep],
            weight[keep],
            bin_hz,
        )


def _floor_db(level: NDArray[np.float64], at: NDArray[np.int64]) -> NDArray[np.float64]:
    """For some bins the higher of the lowest levels three to six bins to their left and to their right."""
    left, right = (level.take(at + side[:, None], mode="clip").min(axis=0) for side in (-_ASIDE, _ASIDE))
    return np.asarray(np.maximum(left, right), dtype=np.float64)


def shadows(lower: NDArray[np.float64] | float, upper: NDArray[np.float64] | float) -> NDArray[np.bool_]:
    """Whether all partials of an upper string fall on a lower string's: an octave, a twelfth, two octaves above it.

    Such a string cannot be told from the lower one by any partial of its own; it is judged by the partials that they
    share.
    """
    interval = np.asarray(upper) - np.asarray(lower)
    octave, twelfth, two_octaves = (np.abs(interval - above) <= SHADOW_WIDTH for above in _SHADOWS)
    return np.asarray(octave | twelfth | two_octaves)


def is_shadow(lower: float, upper: float) -> bool:
    """`shadows` for one pair."""
    octave, twelfth, two_octaves = _SHADOWS
    interval = upper - lower
    return (
        abs(interval - octave) <= SHADOW_WIDTH
        or abs(interval - twelfth) <= SHADOW_WIDTH
        or abs(interval - two_octaves) <= SHADOW_WIDTH
    )


def covers(other: float, midi: float) -> bool:
    """Whether another string leaves a string no partial of its own: it hides behind that, or is in unison with it,
    never quite in tune as that may be."""
    return is_shadow(other, midi) or abs(other - midi) <= UNISON_SEMITONES


@dataclass(frozen=True)
class Support:
    """What a spectrum says for some pitches; arrays of one value a pitch."""

    presence: NDArray[np.float64]
    """0 (none of its free partials is there) to 1 (all are)."""
    free: NDArray[np.float64]
    """0 (every partial is shared with another string: nothing can be said) to 1."""


def free_partials(
    midis: NDArray[np.float64], others: Sequence[float], bin_hz: float, tones_hz: NDArray[np.float64] = NO_TONES
) -> NDArray[np.bool_]:
    """Which partials of each pitch no other string has nearby, and no single tone; shape (pitches, PARTIALS)."""
    return free_of(partials_hz(midis), others, bin_hz, tones_hz)


def partials_hz(midis: NDArray[np.float64]) -> NDArray[np.float64]:
    """Frequencies of each pitch's partials; shape (pitches, PARTIALS)."""
    return hz(midis)[:, None] * _NUMBERS


def free_of(
    targets: NDArray[np.float64], others: Sequence[float], bin_hz: float, tones_hz: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """The same for pitches whose `partials_hz` are known."""
    free: NDArray[np.bool_] = targets < TOP_HZ
    if others:
        f0 = hz(np.array(others))
        near = np.rint(targets[:, :, None] / f0)
        near = np.maximum(near, 1.0, out=near) * f0
        free &= (np.abs(targets[:, :, None] - near) > GUARD_BINS * bin_hz).all(axis=2)
    if len(tones_hz):
        free &= (np.abs(targets[:, :, None] - tones_hz) > GUARD_BINS * bin_hz).all(axis=2)
    return free


def support(
    peaks: Peaks, midis: NDArray[np.float64], others: Sequence[float], tones_hz: NDArray[np.float64] = NO_TONES
) -> Support:
    """How well the peaks support each pitch, by the partials that `others` (MIDI numbers) and single tones leave
    free."""
    targets = partials_hz(midis)
    return support_of(peaks, targets, free_of(targets, others, peaks.bin_hz, tones_hz))


def supports(
    each: Sequence[Peaks], midi: float, others: Sequence[float], tones_hz: NDArray[np.float64] = NO_TONES
) -> list[float]:
    """How clearly a pitch is there by each of some peaks, of spectra alike: the presence of `support`."""
    targets = partials_hz(np.array([midi]))
    free = free_of(targets, others, each[0].bin_hz, tones_hz)
    return [float(support_of(peaks, targets, free).presence[0]) for peaks in each]


def support_of(peaks: Peaks, targets: NDArray[np.float64], free: NDArray[np.bool_]) -> Support:
    """The same as `support` for pitches whose `partials_hz` are known, and which of them are free."""
    weights = free * WEIGHTS
    matched = weights * _match(peaks, targets)
    weight = weights.sum(axis=1)
    return Support(matched.sum(axis=1) / np.maximum(weight, 1e-9), weight / _WHOLE)


def _match(peaks: Peaks, targets: NDArray[np.float64]) -> NDArray[np.float64]:
    """For each partial of each pitch, how well the nearest peak serves it, 0 to 1; same shape."""
    if not len(peaks.hz):
        return np.zeros_like(targets)
    nearest = peaks.borders_hz.searchsorted(targets)
    off_cents = 1200.0 * np.log2(peaks.hz[nearest] / targets)
    spread = np.hypot(SPREAD_CENTS, 1731.0 * SPREAD_BINS * peaks.bin_hz / targets)
    return np.asarray(peaks.weight[nearest] * np.exp(-0.5 * (off_cents / spread) ** 2), dtype=np.float64)
