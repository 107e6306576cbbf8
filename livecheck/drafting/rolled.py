"""Which string of a roll was struck at which of its attacks: attacks close together in, each with its own strings out.

The sound around an attack holds what is struck a few hundredths of a second later too, so each attack of a roll seems
to have struck all of it. What tells them apart is when a string's own partials grow, just before to just after each
attack. A string that hides behind another is told in a roll and nowhere else: the partials that they share grow twice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from livecheck.drafting.struck import Attack
from livecheck.hearing.sound.partials import free_partials, partials_hz, shadows
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.spectrum import loudest_near, magnitudes_of

ROLLED_S = 0.2
"""Strings of a roll follow each other within it."""
TWICE_S = 0.065
"""No hand picks a string twice within it."""
ROLLED_DB = 6.0
"""Strings of a roll lose no more until the next is struck."""
SPOILT_S = 0.09
"""So soon after another attack its sound is in what the odds are reckoned from."""
WINDOW = 1024
LENGTH_S = WINDOW / WORK_RATE_HZ
AWAY_S = 0.5 * LENGTH_S + 0.003
"""Middle of the windows before and after an attack, which nearly meet there."""
BEGINS_DB, HIDDEN_BEGINS_DB, CLEARLY_DB = 6.0, 3.0, 10.0
"""What a string's partials grow by when it is struck; when it hides (two equal strings are 3 dB louder than one); when
nothing else says that anything was struck."""
SOFTER_DB = 12.0
"""What is softer than that below its later self, or below its roll, has leaked from there."""
SAME_SEMITONES = 0.6


@dataclass(frozen=True)
class Attempt:
    """What may have been struck at an onset."""

    usual: Attack
    """Where the sound leaves it open, as many strings as this hand usually strikes."""
    part: Attack
    """The same if it is but a part of what the hand strikes one after the other."""

    @property
    def time_s(self) -> float:
        return self.usual.time_s


@dataclass(frozen=True)
class _Roll:
    """All strings of attacks close together; arrays of shape (strings, attacks) but for the first two."""

    midis: NDArray[np.float64]
    hides: NDArray[np.bool_]
    seems: NDArray[np.bool_]
    """Whether it seemed to be struck there."""
    levels_db: NDArray[np.float64]
    """How loud it was then."""
    gain_db: NDArray[np.float64]
    """How much its partials grew."""
    after_db: NDArray[np.float64]
    near: NDArray[np.bool_]
    """Which attacks are too close together for one string; shape (attacks, attacks)."""


def rolled(recording: Recording, attacks: Sequence[Attempt]) -> list[Attack]:
    """Attacks in order of time; those with odds below zero only where a string clearly begins just after others."""
    return [one for group in _groups(attacks) for one in _parted(recording, group)]


def _groups(attempts: Sequence[Attempt]) -> Iterator[list[Attempt]]:
    """Attacks close together, each group beginning with a sure one."""
    group: list[Attempt] = []
    for one in attempts:
        sure = one.usual.odds > 0.0
        if group and one.time_s - group[-1].time_s < (ROLLED_S if sure else SPOILT_S):
            group.append(one)
        elif sure:
            if group:
                yield group
            group = [one]
    if group:
        yield group


def _parted(recording: Recording, group: Sequence[Attempt]) -> list[Attack]:
    usual = [one.usual for one in group]
    if len(group) == 1:
        return usual
    roll = _roll_of(recording, usual, usual)
    struck = _struck(roll, usual, by_habit=True)
    if _is_rolled(roll, struck):
        part = [one.part for one in group]
        roll = _roll_of(recording, part, usual)
        return list(_told(roll, part, _struck(roll, part, by_habit=False)))
    return list(_told(roll, usual, struck))


def _is_rolled(roll: _Roll, struck: NDArray[np.bool_]) -> bool:
    """Whether strings that were struck first still ring when others are."""
    told = np.flatnonzero(struck.any(axis=0))
    for first, then in pairwise(told.tolist()):
        its = struck[:, first] & ~roll.hides
        if (roll.after_db[its, then] > roll.after_db[its, first] - ROLLED_DB).any():
            return True
    return False


def _struck(roll: _Roll, group: Sequence[Attack], by_habit: bool) -> NDArray[np.bool_]:
    """What was struck where; shape (strings, attacks). `by_habit`: strings are let hide behind what is struck at the
    same time."""
    sure = np.array([attack.odds > 0.0 for attack in group])
    begins = _begins(roll)
    begins[roll.hides] = _begins_hidden(roll, group, begins)
    loud = roll.after_db > roll.after_db.max() - SOFTER_DB
    clear = begins & loud & ~roll.hides[:, None] & (roll.gain_db > CLEARLY_DB) & (begins.sum(axis=1) == 1)[:, None]
    begins &= sure | (clear & roll.seems)
    struck = np.zeros_like(begins)
    for index in range(len(group)):
        own, near = roll.seems[:, index], roll.near[index]
        # What two attacks close together struck is in the sound around both.
        seems = own | (roll.seems & near & sure).any(axis=1)
        if not sure[index]:
            struck[:, index] = begins[:, index]
        elif (begins[:, index] & seems).any():
            told = (roll.seems & near & sure)[:, :index].any(axis=1)
            open_still = own & ~begins.any(axis=1) & ~told
            struck[:, index] = (begins[:, index] & seems) | (open_still & (~roll.hides | by_habit))
        else:
            struck[:, index] = own & ~(begins & near).any(axis=1)
    return struck


def _told(roll: _Roll, group: Sequence[Attack], struck: NDArray[np.bool_]) -> Iterator[Attack]:
    for attack, its in zip(group, struck.T, strict=True):
        if its.any():
            levels_db = roll.levels_db[its].max(axis=1)
            yield replace(attack, midis=tuple(roll.midis[its].tolist()), levels_db=tuple(levels_db.tolist()))


def _begins(roll: _Roll) -> NDArray[np.bool_]:
    """At which attacks each string was struck, by partials of its own."""
    grown = 10.0 ** (roll.after_db / 10.0) * (1.0 - 10.0 ** (-np.maximum(roll.gain_db, 0.0) / 10.0))
    most = np.array([grown[:, near].max(axis=1) for near in roll.near]).T
    loud = roll.after_db > roll.after_db.max(axis=1, keepdims=True) - SOFTER_DB
    return np.asarray((roll.gain_db > BEGINS_DB) & loud & (grown >= most))


def _begins_hidden(roll: _Roll, group: Sequence[Attack], begins: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The same of the strings that hide: where what they hide behind has rung for a while and is not struck again."""
    times_s = np.array([attack.time_s for attack in group])
    after_others = np.append(False, np.diff(times_s) > LENGTH_S + 2.0 * (AWAY_S - 0.5 * LENGTH_S))
    grows = (roll.gain_db[roll.hides] > HIDDEN_BEGINS_DB) & after_others
    behind = shadows(roll.midis, roll.midis[roll.hides][:, None])
    every = begins.copy()
    every[roll.hides] = grows
    return np.asarray(grows & ~(behind[:, :, None] & every).any(axis=1))


def _roll_of(recording: Recording, group: Sequence[Attack], hiding: Sequence[Attack]) -> _Roll:
    """`hiding`: the same attacks, of which strings are taken that hide behind others of the group."""
    bin_hz = WORK_RATE_HZ / WINDOW
    midis = _merged([], [midi for attack in group for midi in attack.midis])
    also = [midi for attack in hiding for midi in attack.midis]
    midis = _merged(midis, [midi for midi in also if not free_partials(np.array([midi]), midis, bin_hz).any()])
    before = np.array([_spectrum(recording, attack.time_s - AWAY_S) for attack in group])
    after = np.array([_spectrum(recording, attack.time_s + AWAY_S) for attack in group])
    hides, gain_db, after_db = [], [], []
    for midi in midis:
        free = free_partials(np.array([midi]), [other for other in midis if other != midi], bin_hz)[0]
        hides.append(not free.any())
        tones_hz = partials_hz(np.array([midi]))[0, free if free.any() else slice(None)]
        was_db, is_db = (_level_db(loudest_near(rows, tones_hz, bin_hz)) for rows in (before, after))
        gain_db.append(is_db - was_db)
        after_db.append(is_db)
    heard_db = np.array(
        [
            [max(_heard_db(one, midi), _heard_db(other, midi)) for one, other in zip(group, hiding, strict=True)]
            for midi in midis
        ]
    )
    near = [[abs(one.time_s - other.time_s) < TWICE_S for other in group] for one in group]
    return _Roll(
        np.array(midis),
        np.array(hides),
        np.isfinite(heard_db),
        heard_db,
        np.array(gain_db),
        np.array(after_db),
        np.array(near),
    )


def _merged(midis: list[float], more: Sequence[float]) -> list[float]:
    """Pitches in order, of those less than `SAME_SEMITONES` apart the first one."""
    found = list(midis)
    for midi in more:
        if all(abs(midi - other) > SAME_SEMITONES for other in found):
            found.append(midi)
    return sorted(found)


def _heard_db(attack: Attack, midi: float) -> float:
    """How loud a string was heard at an attack; minus infinity if it was not."""
    pairs = zip(attack.midis, attack.levels_db, strict=True)
    return max((level_db for one, level_db in pairs if abs(one - midi) <= SAME_SEMITONES), default=-np.inf)


def _spectrum(recording: Recording, time_s: float) -> NDArray[np.float32]:
    first = round(time_s * WORK_RATE_HZ) - WINDOW // 2
    return np.asarray(magnitudes_of(recording.slice(first, first + WINDOW), WINDOW, WINDOW)[0])


def _level_db(partials: NDArray[np.float32]) -> NDArray[np.float64]:
    """Of all partials together, on each row."""
    return np.asarray(10.0 * np.log10((partials.astype(np.float64) ** 2).sum(axis=1) + 1e-12))
