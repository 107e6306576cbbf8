"""Which strings are struck at an onset, with no lesson to say.

In: the sound just before and just after an onset. Out: the pitches that explain best what is new, one to three, and how
well they do. A set of pitches is good when much of what grew are partials of one, and when each has the partials
that it should have, as far as the others leave them free. It is chosen among all sets that the instrument can sound at
once (the sum over a set follows Klapuri, "Multiple fundamental frequency estimation by summing harmonic amplitudes",
ISMIR 2006; the search is over whole sets, as taking away one pitch after the other takes away partials that two share).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from livecheck.drafting.together import Together
from livecheck.hearing.sound.moment import Moment
from livecheck.hearing.sound.partials import GUARD_BINS, PARTIALS, TOP_HZ, WEIGHTS, Peaks, hz, support

GRID_CENTS = 10
MOST_CANDIDATES = 12
LEAST_PRESENCE = 0.35
HIDES_WITHIN = 0.015
"""A quarter of a semitone: how far from a whole number of times another's frequency a string may be to hide."""
APART = 0.5
"""Semitones between two candidates."""
TOP_PEAK_HZ = 5000.0
HIGHEST_PARTIAL = 20
OWN_CENTS, OWN_BINS, MOST_OFF = 25.0, 0.35, 0.2
"""How far off a partial's place a peak may be; and, where partials lie close, in shares of what lies between them."""
OLD_DB, NEW_DB = 2.0, 8.0
"""A peak that grew by no more than the first is what rang before; by the second, it is new."""
MISSING_COST, STRING_COST = 0.15, 0.04
LEAST_FREE = 0.08
UNKNOWN = 0.5
"""How much of a string is taken to be there of which no partial is free."""
HIDDEN_COST = 1.2
"""What speaks against a string that hides. What speaks for one an octave above is told apart: a string alone has such
partials now and then, so that is left to the habit of the hand."""
NUMBERS = np.arange(1, 10)
LIFT_DB, FULL_LIFT_DB, MOST_LIFT_DB = 1.0, 11.0, 15.0
"""A string an octave, a twelfth or two octaves above another has no partial of its own. It shows in the partials that
they share: where these stand no more than the first above their neighbours, it is not there; where they stand further
above than the last, the lower string is not."""
MOST_LIFTED = {2: 1.0, 3: 0.47, 4: 0.47}
"""By how many times the lower frequency the string has: many strings alone have strong third and fourth partials."""


@dataclass(frozen=True)
class Grip:
    """Pitches struck at once, MIDI numbers, the lowest first."""

    midis: tuple[float, ...]
    score: float
    explained: float
    """Share of what is new that these pitches explain."""
    new: float
    """Share of what sounds that is new, 0 to 1."""
    presence: tuple[float, ...]
    """How much of each one's free partials is there, 0 to 1."""
    hides: bool = False
    """Whether one of them hides behind another."""
    behind: float = 0.0
    """How much better this is if the hand strikes strings that hide."""


@dataclass(frozen=True)
class _Candidates:
    midis: NDArray[np.float64]
    own: NDArray[np.bool_]
    """Which peaks are partials of which; shape (candidates, peaks)."""
    match: NDArray[np.float64]
    """How well each one's partials are there; shape (candidates, PARTIALS)."""
    clash: NDArray[np.bool_]
    """Whether a partial of the first is hidden by the second; shape (candidates, candidates, PARTIALS)."""
    lifted: NDArray[np.float64]
    """How much of the first is there if it hides behind the second, 0 to 1; shape (candidates, candidates)."""


def grips_of(moment: Moment, together: Together, most: int = 3) -> list[Grip]:
    """The sets of one to `most` pitches that explain an onset, the best first; empty if nothing with a pitch began."""
    candidates = _candidates(moment, together)
    sounds, new = _weights(moment)
    if not len(candidates.midis) or new.sum() <= 0.0:
        return []
    share = float(new.sum() / sounds.sum())
    found = [grip for n in range(1, most + 1) for grip in _sets(candidates, new / new.sum(), share, together, n)]
    return sorted(found, key=lambda grip: -grip.score)


def _candidates(moment: Moment, together: Together) -> _Candidates:
    peaks = moment.peaks
    grid = np.arange(together.lowest - 0.5, together.highest + 0.5, GRID_CENTS / 100.0)
    presence = support(peaks, grid, ()).presence
    inner = presence[1:-1]
    tops = np.flatnonzero((inner >= presence[:-2]) & (inner > presence[2:]) & (inner > LEAST_PRESENCE)) + 1
    kept: list[int] = []
    for top in tops[np.argsort(-presence[tops])]:
        if all(abs(top - other) * GRID_CENTS > 100.0 * APART for other in kept):
            kept.append(int(top))
        if len(kept) == MOST_CANDIDATES:
            break
    midis = np.sort(grid[kept])
    f0 = hz(midis)
    number = np.maximum(np.rint(peaks.hz[None, :] / f0[:, None]), 1.0)
    off_cents = np.abs(1200.0 * np.log2(peaks.hz[None, :] / (number * f0[:, None])))
    wide = np.hypot(OWN_CENTS, 1731.0 * OWN_BINS * peaks.bin_hz / np.maximum(peaks.hz, 1.0))
    near = np.abs(peaks.hz[None, :] - number * f0[:, None]) < MOST_OFF * f0[:, None]
    own = (off_cents < wide[None, :]) & near & (number <= HIGHEST_PARTIAL)
    targets = f0[:, None] * np.arange(1, PARTIALS + 1)
    times = np.maximum(np.rint(targets[:, None, :] / f0[None, :, None]), 1.0)
    clash = np.abs(targets[:, None, :] - times * f0[None, :, None]) <= GUARD_BINS * peaks.bin_hz
    clash[np.arange(len(midis)), np.arange(len(midis))] = False
    return _Candidates(midis, own, _match(peaks, targets), clash, _lifted(moment, f0))


def _lifted(moment: Moment, f0: NDArray[np.float64]) -> NDArray[np.float64]:
    """For each frequency (row) and each that it may hide behind (column), 0 to 1; infinite where it does not hide."""
    out = np.full((len(f0), len(f0)), np.inf)
    times = f0[:, None] / f0[None, :]
    for upper, lower in np.argwhere((times > 1.5) & (times < 4.2)):
        ratio = round(times[upper, lower])
        if abs(times[upper, lower] / ratio - 1.0) < HIDES_WITHIN:
            lift_db = _lift_db(_levels_db(moment, f0[lower] * NUMBERS), ratio)
            most = UNKNOWN if lift_db > MOST_LIFT_DB else MOST_LIFTED[ratio]
            out[upper, lower] = np.clip((lift_db - LIFT_DB) / (FULL_LIFT_DB - LIFT_DB), 0.0, most)
    return out


def _lift_db(levels_db: NDArray[np.float64], ratio: int) -> float:
    """How far every so many-th of a string's partials stand above the line through the others, the first ones most.

    Where they are but a few they must stand above their neighbours as well: one strong partial makes no string.
    """
    shared = NUMBERS % ratio == 0
    slope, level = np.polyfit(NUMBERS[~shared], levels_db[~shared], 1)
    above_db = levels_db[shared] - (level + slope * NUMBERS[shared])
    lift_db = float(np.average(above_db, weights=0.5 ** np.arange(len(above_db))))
    if ratio == 2:
        return lift_db
    first = np.array([ratio, 2 * ratio])
    around = np.concatenate((first - 1, first + 1))
    return min(lift_db, float(levels_db[first - 1].mean() - levels_db[around - 1].mean()))


def _levels_db(moment: Moment, at_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    bins = np.clip(np.rint(at_hz / moment.peaks.bin_hz).astype(int), 1, len(moment.after) - 2)
    level = np.maximum.reduce([moment.after[bins + d] for d in (-1, 0, 1)])
    return np.asarray(20.0 * np.log10(np.maximum(level, 1e-6)))


def _match(peaks: Peaks, targets: NDArray[np.float64]) -> NDArray[np.float64]:
    """How well the peaks serve each target frequency, 0 to 1; same shape."""
    spread = np.hypot(10.0, 1731.0 * 0.15 * peaks.bin_hz / targets)
    off_cents = 1200.0 * np.log2(peaks.hz[None, None, :] / targets[:, :, None])
    served = peaks.weight * np.exp(-0.5 * (off_cents / spread[:, :, None]) ** 2)
    return np.asarray(served.max(axis=2, initial=0.0))


def _weights(moment: Moment) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How much each peak counts: its loudness, and that as far as it is new."""
    peaks = moment.peaks
    bins = np.clip(np.rint(peaks.hz / peaks.bin_hz).astype(int), 1, len(moment.before) - 2)
    before = np.maximum.reduce([moment.before[bins + d] for d in (-1, 0, 1)])
    gain_db = peaks.db - 20.0 * np.log10(np.maximum(before, 1e-7))
    new = np.clip((gain_db - OLD_DB) / (NEW_DB - OLD_DB), 0.0, 1.0)
    sounds = np.asarray(peaks.weight * 10.0 ** (peaks.db / 40.0) * (peaks.hz < TOP_PEAK_HZ))
    return sounds, sounds * new


def _sets(
    candidates: _Candidates, weights: NDArray[np.float64], new: float, together: Together, count: int
) -> list[Grip]:
    """All playable sets of so many candidates."""
    midis = candidates.midis
    sets = np.array(list(combinations(range(len(midis)), count)), dtype=np.int64).reshape(-1, count)
    if count == 2:
        sets = sets[together.pairs(midis[sets[:, 0]], midis[sets[:, 1]])]
    elif count == 3:
        sets = sets[together.threes(midis[sets[:, 0]], midis[sets[:, 1]], midis[sets[:, 2]])]
    if not len(sets):
        return []
    explained = candidates.own[sets].any(axis=1) @ weights
    hidden = np.stack([candidates.clash[sets[:, i, None], sets].any(axis=1) for i in range(count)], axis=1)
    free = WEIGHTS * ~hidden * (hz(midis)[sets][:, :, None] * np.arange(1, PARTIALS + 1) < TOP_HZ)
    left = free.sum(axis=2)
    there = (free * candidates.match[sets]).sum(axis=2) / np.maximum(left, 1e-9)
    left /= WEIGHTS.sum()
    lifted = np.stack([candidates.lifted[sets[:, i, None], sets].min(axis=1) for i in range(count)], axis=1)
    hides = left <= LEAST_FREE
    # What is not there itself has nothing hiding behind it.
    sure = np.clip((np.where(hides, 1.0, there).min(axis=1) - UNKNOWN) / (1.0 - UNKNOWN), 0.0, 1.0)[:, None]
    behind = MISSING_COST * HIDDEN_COST * (hides * sure * (np.clip(lifted, UNKNOWN, 1.0) - UNKNOWN)).sum(axis=1)
    lifted = np.minimum(lifted, UNKNOWN)
    missing = np.where(hides, HIDDEN_COST * (UNKNOWN - lifted), (1.0 - there) * np.maximum(left, 0.3)).sum(axis=1)
    there = np.where(hides, lifted, there)
    scores = explained - MISSING_COST * missing - STRING_COST * count
    best = np.argsort(-scores - behind)[:4]
    return [
        Grip(
            tuple(midis[sets[i]].tolist()),
            float(scores[i]),
            float(explained[i]),
            new,
            tuple(there[i].tolist()),
            bool(hides[i].any()),
            float(behind[i]),
        )
        for i in best
    ]
