"""A delay unit's repeats among the attacks of a take, told by the one lag that they all have.

In an echo nearly every attack comes back after the same time: what its own partials gain then, taken in the middle over
all attacks, stands out at that lag, and few gain nothing. A player who strikes the same string again, or moves to the
beat, does not do so after every note.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from livecheck.drafting.own import HOP_S, own_rises
from livecheck.drafting.struck import Attack
from livecheck.hearing.sound.recording import Recording

SHORTEST_S, LONGEST_S = 0.12, 0.8
"""Common practice: what delay units are set to behind a steel."""
LEAST_ATTACKS = 5
LEAST_SHARE = 0.4
TAKEN_S = 0.03
"""So near to another attack nobody can tell what comes back."""
LEAST_RISE = 0.12
NEARLY_ALL, LEAST_OF_ALL = 0.8, 0.06
"""Of the attacks so many gain so much."""
OVER_USUAL = 1.8
"""How much more is gained at the lag than at other times."""
HALF_SHARE = 0.5
"""What comes back after half the time so clearly comes back twice."""
ABOUT_S = 0.035
"""How far the lag may be off at first: an attack that comes back softly is heard a little later."""
NEAR_S = 0.02
SAME_SEMITONES = 0.6
SOFTER_DB = 5.0
"""A repeat is softer than what it repeats; a string struck again is about as loud."""
MOST_TIMES = 3


def lag_s(recording: Recording, attacks: Sequence[Attack]) -> float | None:
    """The lag at which attacks come back, in seconds; None if they do not."""
    if len(attacks) < LEAST_ATTACKS:
        return None
    rises = np.array([_after(recording, attack) for attack in attacks])
    times_s = SHORTEST_S + np.arange(rises.shape[1]) * HOP_S
    begins_s = np.array([attack.time_s for attack in attacks])
    for row, begin_s in zip(rises, begins_s, strict=True):
        row[np.min(np.abs(begin_s + times_s[:, None] - begins_s[None, :]), axis=1) < TAKEN_S] = np.nan
    some = np.isfinite(rises).sum(axis=0) >= max(LEAST_ATTACKS, LEAST_SHARE * len(attacks))
    if not some.any():
        return None
    middle = np.where(some, np.nanmedian(np.where(some, rises, 0.0), axis=0), 0.0)
    best = int(np.argmax(middle))
    if middle[best] < max(LEAST_RISE, OVER_USUAL * float(np.median(middle[some]))):
        return None
    if np.nanquantile(rises[:, best], 1.0 - NEARLY_ALL) < LEAST_OF_ALL:
        return None
    half = (SHORTEST_S + best * HOP_S) / 2.0
    near = np.abs(times_s - half) <= NEAR_S
    if near.any() and float(middle[near].max()) >= HALF_SHARE * middle[best]:
        best = int(np.flatnonzero(near)[np.argmax(middle[near])])
    return float(times_s[best])


def _after(recording: Recording, attack: Attack) -> NDArray[np.float64]:
    """What the partials of an attack gain again later, the most within some ms of each time."""
    rises = own_rises(recording, attack.time_s + SHORTEST_S, attack.time_s + LONGEST_S, attack.midis)
    return np.asarray(np.maximum.reduce([np.roll(rises, shift) for shift in (-2, -1, 0, 1, 2)]))


def without_repeats(attacks: Sequence[Attack], lag_s: float) -> list[Attack]:
    """The attacks with what is a repeat left out, one string or all of them. `lag_s` is put right by them."""
    pairs = (
        (later.time_s - earlier.time_s, earlier, later)
        for earlier, later in combinations(attacks, 2)
        if abs(later.time_s - earlier.time_s - lag_s) <= ABOUT_S
    )
    softer_s = [
        away_s for away_s, earlier, later in pairs if any(_repeats(later, i, earlier) for i in range(len(later.midis)))
    ]
    lag_s = float(np.median(softer_s)) if softer_s else lag_s
    kept: list[Attack] = []
    for attack in attacks:
        fresh = [i for i in range(len(attack.midis)) if not _is_repeat(attack, i, kept, lag_s)]
        if fresh:
            kept.append(attack.only(fresh))
    return kept


def _is_repeat(attack: Attack, index: int, before: Sequence[Attack], lag_s: float) -> bool:
    for other in before:
        away_s = attack.time_s - other.time_s
        times = round(away_s / lag_s)
        if 1 <= times <= MOST_TIMES and abs(away_s - times * lag_s) <= NEAR_S and _repeats(attack, index, other):
            return True
    return False


def _repeats(attack: Attack, index: int, other: Attack) -> bool:
    """Whether a string of an attack is one of another's, softer."""
    return any(
        abs(midi - attack.midis[index]) <= SAME_SEMITONES and attack.levels_db[index] < level_db - SOFTER_DB
        for midi, level_db in zip(other.midis, other.levels_db, strict=True)
    )
