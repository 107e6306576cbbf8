"""Where strings end: silenced before their time, at their time, or ringing on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.track import Track
from livecheck.hearing.ends.silenced import BLEED_S, REFERENCE_S, silenced_s
from livecheck.hearing.median import median
from livecheck.hearing.scene import Scene, Sounding
from livecheck.hearing.sound.partials import covers, is_shadow

RANG_DROP_DB, RANG_GAIN_DB = 14.0, 6.0
"""What rings on has lost no more, and does not grow, but for what others covered before."""
RANG_FROM_S, RANG_STEP_S, RANG_LONGEST_S = 0.1, 0.05, 2.0
TAIL_FROM_S, TAIL_TO_S, LEAST_TAIL = 0.15, 0.6, 3
GONE_DB = -60.0
RANG_GAP_S = 0.18
"""A string that cannot be made out for so long has ended; for less, another string may have covered it."""
BLIND_S = 0.45
"""No single move takes longer than that at such a speed that nothing can be made out."""
SMEARED_S, SMEARED_SEMITONES = np.array([-0.04, 0.0, 0.04]), 0.5
"""A string that moves so far within a frame smears over as many bins as part two strings."""
SETS_OUT_S = 0.3
"""So long before a pick the bar sets out for it at most, where no longer way is written."""
AROUND_S = np.array([-0.15, 0.0, 0.15])
"""The bar may take a string somewhere so much earlier or later than written."""
APART_SEMITONES, WAVER_SEMITONES = 0.15, 0.15
"""How close the pitches are at which a string is looked for, so that it is found between two of them, and how far a
hand takes it to both sides of where it should be."""


@dataclass(frozen=True)
class _Before:
    """A string shortly before its written end, with which what is there later is compared."""

    midi: float
    carried: float
    """Where bar and pedals had its string right before that end."""
    level_db: float | None
    """None where nothing can be said of it."""


class Endings:
    """The ends of all strings that sound in a scene."""

    def __init__(self, scene: Scene, sounding: Sequence[Sounding], tracks: Sequence[Track]) -> None:
        """`tracks`: one for each of the sounding strings."""
        self._scene = scene
        self._sounding = sounding
        self._tracks = tracks
        self._silent_s = [silenced_s(scene, one, track, tracks) for one, track in zip(sounding, tracks, strict=True)]
        self._limits_s = [self._limit_s(one) for one in sounding]
        self._before = [self._before_end(index) for index in range(len(sounding))]
        self._ends_s: list[float] = []
        for index in range(len(sounding)):
            self._ends_s.append(self._end_s(index))

    def end_s(self, index: int) -> float:
        """When a string fell silent."""
        return self._ends_s[index]

    def _end_s(self, index: int) -> float:
        """When a string fell silent: before its written end, then, or as long as it still sounds after that, moving
        with bar and pedals."""
        one = self._sounding[index]
        silent_s = self._silent_s[index]
        if silent_s is not None and not self._sets_out(one, silent_s):
            return silent_s
        found_s = one.stop_s if silent_s is None else silent_s
        at_s = one.stop_s + RANG_FROM_S
        lost_s = RANG_FROM_S
        while self._may_ring(index, at_s) and lost_s < RANG_GAP_S and at_s < max(found_s, one.stop_s) + BLIND_S:
            if self._rings(index, at_s) and not any(self._rings(low, at_s) for low in self._below(index, at_s)):
                found_s, lost_s = at_s, 0.0
            lost_s += 0.0 if self._is_on_its_way(one, at_s) else RANG_STEP_S
            at_s += RANG_STEP_S
        return found_s

    def tail_db(self, index: int) -> float | None:
        """What is left of a string some time after its written end, in dB against before; None where it cannot be told.

        One string may be left ringing; where nearly all of them leave a tail it is the room's or a delay unit's.
        """
        stop_s, before = self._sounding[index].stop_s, self._before[index]
        times_s = np.arange(stop_s + TAIL_FROM_S, stop_s + TAIL_TO_S, RANG_STEP_S)
        times_s = times_s[[self._may_ring(index, time_s) for time_s in times_s.tolist()]]
        if before.level_db is None or len(times_s) < LEAST_TAIL:
            return None
        known = []
        for others, alike_s in groupby(times_s.tolist(), lambda time_s: self._others_at(index, time_s)):
            heard = self._scene.heard_db(list(alike_s), before.midi, others)
            known += [level_db - before.level_db if is_there else GONE_DB for level_db, is_there in heard]
        return median(np.array(known)) if len(known) >= LEAST_TAIL else None

    def _before_end(self, index: int) -> _Before:
        one, track, silent_s = self._sounding[index], self._tracks[index], self._silent_s[index]
        midis = track.midis[self._scene.spectra.times_s[track.first : track.stop] <= one.stop_s - BLEED_S]
        carried = float(self._scene.carried_midi(one.string, np.array(one.stop_s - BLEED_S)))
        if not len(midis):
            return _Before(one.midi, carried, None)
        last_s = one.stop_s - REFERENCE_S if silent_s is None else min(one.stop_s - REFERENCE_S, silent_s - BLEED_S)
        earlier_s = max(last_s, one.onset.time_s + BLEED_S)
        earlier = float(midis[min(self._scene.spectra.frame_at(earlier_s) - track.first, len(midis) - 1)])
        others = self._beside(one, earlier_s)
        level_db = self._scene.level_db(earlier_s, earlier, others)
        if level_db is None:
            # Of a string that hides behind another one, what both have there is the most that it may have.
            level_db = self._scene.level_db(earlier_s, earlier, [m for m in others if not is_shadow(m, earlier)])
        return _Before(median(midis[-4:]), carried, level_db)

    def _limit_s(self, one: Sounding) -> float:
        """Until when a string may be heard after its written end: until it is struck again, and not for ever."""
        if one.asked.note.ending == "end":
            return one.stop_s
        again = (s.onset.time_s for s in self._sounding if s.string == one.string)
        later = (at_s for at_s in again if at_s > one.onset.time_s + 0.03)
        return min([one.stop_s + RANG_LONGEST_S, float(self._scene.spectra.times_s[-1]), *later])

    def _may_ring(self, index: int, time_s: float) -> bool:
        """Whether a string has ended by a time that may be heard after it."""
        return self._sounding[index].stop_s < time_s < self._limits_s[index]

    def _rings(self, index: int, time_s: float) -> bool:
        """Whether a string that should be silent still sounds, where it was or where the bar has taken it, by what no
        other has."""
        before = self._before[index]
        if before.level_db is None:
            return False
        others = self._others_at(index, time_s)
        pitches = np.array([m for m in self._pitches(index, time_s).tolist() if not any(covers(o, m) for o in others)])
        least_db, most_db = before.level_db - RANG_DROP_DB, before.level_db + RANG_GAIN_DB
        return self._scene.sounds(time_s, pitches, others, least_db, most_db)

    def _pitches(self, index: int, time_s: float) -> NDArray[np.float64]:
        """Where a string that rings on may be."""
        near = self._scene.carried_midi(self._sounding[index].string, time_s + AROUND_S)
        low, high = near.min() - WAVER_SEMITONES, near.max() + WAVER_SEMITONES
        count = 1 + math.ceil((high - low) / APART_SEMITONES)
        return np.append(np.linspace(low, high, count), self._before[index].midi)

    def _sets_out(self, one: Sounding, time_s: float) -> bool:
        """Whether what seems to be silenced shortly before its end may be on its way with the bar or a pedal to where
        the next pick has them: only what is heard of it later can tell."""
        way = self._scene.carried_midi(one.string, np.array([time_s, one.stop_s]), written=True)
        return one.stop_s - time_s < SETS_OUT_S and abs(float(way[1] - way[0])) > SMEARED_SEMITONES

    def _is_on_its_way(self, one: Sounding, time_s: float) -> bool:
        """Whether bar or pedals take a string so far while a frame lasts that it cannot be made out."""
        way = self._scene.carried_midi(one.string, time_s + SMEARED_S)
        return bool(way.max() - way.min() > SMEARED_SEMITONES)

    def _others_at(self, index: int, time_s: float) -> list[float]:
        """The pitches of the others that sound at a time, of those that are known to ring on, and of those that hide
        behind a string if they ring on."""
        here, ended = self._ended(index, time_s)
        known = len(self._ends_s)
        rings = [
            midi
            for i, both in ended.items()
            if is_shadow(here, both[0]) or (i < known and self._ends_s[i] >= time_s)
            for midi in both
        ]
        return self._beside(self._sounding[index], time_s) + rings

    def _below(self, index: int, time_s: float) -> list[int]:
        """The strings that hide one if they ring on as well: all its partials would be theirs."""
        here, ended = self._ended(index, time_s)
        return [i for i, both in ended.items() if is_shadow(both[0], here)]

    def _ended(self, index: int, time_s: float) -> tuple[float, dict[int, tuple[float, float]]]:
        """Where the bar should take a string after its written end if it rings on; and, by their places, the others
        that have ended by a time and may be heard after it: where the bar should take each, and that much further than
        where it was."""
        others = [i for i in range(len(self._sounding)) if i != index and self._may_ring(i, time_s)]
        strings = [self._sounding[i].string for i in (index, *others)]
        here, *there = (float(midi) for midi in self._scene.carried_midis(strings, np.array(time_s)))
        return here + self._sounding[index].slip, {
            i: (midi + self._sounding[i].slip, self._before[i].midi + (midi - self._before[i].carried))
            for i, midi in zip(others, there, strict=True)
        }

    def _beside(self, one: Sounding, time_s: float) -> list[float]:
        """The pitches of the others that sound at a time, where they should be and where they are heard to be: under a
        bar that lies flat the octave above another string is no string that rings on where it should be. To a tenth of
        a semitone, so that they are the same for a while."""
        frame = self._scene.spectra.frame_at(time_s)
        heard = [
            round(float(track.midis[frame - track.first]), 1)
            for other, track in zip(self._sounding, self._tracks, strict=True)
            if other is not one and track.first <= frame < track.stop
        ]
        return self._scene.others_at(one, time_s, self._sounding) + heard
