"""A delay unit's repeats among the attacks of a take, told by the one lag that they all have.

In an echo nearly every attack comes back after the same time: what its own partials gain then, taken in the middle over
all attacks, stands out at that lag. A player who strikes the same string again does not do so after every note.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from livecheck.drafting.own import HOP_S, own_rises
from livecheck.drafting.struck import Attack
from livecheck.hearing.recording import Recording

SHORTEST_S, LONGEST_S = 0.12, 0.8
"""Common practice: what delay units are set to behind a steel."""
LEAST_ATTACKS = 5
LEAST_SHARE = 0.4
TAKEN_S = 0.03
"""So near to another attack nobody can tell what comes back."""
LEAST_RISE = 0.12
OVER_USUAL = 1.8
"""How much more is gained at the lag than at other times."""
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
    return SHORTEST_S + best * HOP_S


def _after(recording: Recording, attack: Attack) -> NDArray[np.float64]:
    """What the partials of an attack gain again later, the most within some ms of each time."""
    rises = own_rises(recording, attack.time_s + SHORTEST_S, attack.time_s + LONGEST_S, attack.midis)
    return np.asarray(np.maximum.reduce([np.roll(rises, shift) for shift in (-2, -1, 0, 1, 2)]))


def without_repeats(attacks: Sequence[Attack], lag_s: float) -> list[Attack]:
    """The attacks with what is a repeat left out, one string or all of them."""
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
        if 1 <= times <= MOST_TIMES and abs(away_s - times * lag_s) <= NEAR_S:
            for midi, level_db in zip(other.midis, other.levels_db, strict=True):
                is_same = abs(midi - attack.midis[index]) <= SAME_SEMITONES
                if is_same and attack.levels_db[index] < level_db - SOFTER_DB:
                    return True
    return False
