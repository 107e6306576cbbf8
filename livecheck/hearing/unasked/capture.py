"""Tracks that leave their strings for another one that was struck louder."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.track import Track
from livecheck.hearing.median import nearest_middle
from livecheck.hearing.scene import SLIP_SEMITONES, Scene, Sounding
from livecheck.hearing.sound.moment import Moment
from livecheck.hearing.unasked.again import AGAIN_RISE
from livecheck.hearing.unasked.departure import LEAP_S, Departure, Way, departures, heard_on
from livecheck.hearing.unasked.growth import gained_db, track_midi, track_midis
from livecheck.hearing.unasked.straightened import WAY_S

LEAP_SEMITONES = 0.8
"""A track that leaps to what another string sounds leaps by nearly a semitone or more."""
MEANWHILE_S = 0.06
"""So long after an onset its track has leapt."""
BEFORE_LEAP_S = 0.1
"""A track that leaps to what is struck has left its string by so much before."""
FAINT_RISE = 0.15
"""Under several strings that ring a stroke is no great rise: where another one is seen to go on, so faint an attack is
enough."""
LEAST_GAIN_DB = 1.0
"""A track that leaps to what is struck grows by more."""
LOST_DB = 10.0
"""A track that has lost so much by a leap did not move with its string."""


@dataclass(frozen=True)
class Left:
    """A string that its track left."""

    way: Way
    is_heard: bool
    """Whether it is heard there, or should be there by all else."""


def captured(scene: Scene, moment: Moment, ringing: Sequence[tuple[Sounding, Track]]) -> dict[Sounding, Left]:
    """The ringing strings whose tracks left them at an onset."""
    rang = [(one, track) for one, track in ringing if one.onset.time_s <= moment.onset.time_s - BEFORE_LEAP_S]
    going_on = [pair for pair in rang if _goes_on(scene, *pair, moment)]
    if moment.onset.rise < (FAINT_RISE if going_on else AGAIN_RISE):
        return {}
    leapt = {one: left for one, track in rang if (left := departures(scene, track, moment))}
    heard = {
        one: there
        for one, left in leapt.items()
        if (there := heard_on(scene, left, moment, [trail for other, trail in ringing if other is not one]))
    }
    gone = [
        (one, track)
        for one, track in rang
        if (one in heard or not _comes_home(scene, one, track, moment))
        and (_is_captured(scene, one, track, moment, ringing) or _leaps_with(leapt.get(one, []), heard.values()))
    ]
    steady = [pair for pair in going_on if pair[0] not in dict(gone)]
    return {
        one: Left(heard[one].way, True) if one in heard else Left(_beside(scene, one, track, moment, steady), False)
        for one, track in gone
    }


def _comes_home(scene: Scene, one: Sounding, track: Track, moment: Moment) -> bool:
    """Whether a track leaps to where its string should have stood since before a leap: what it was drawn to until then
    was no string but what is left of one, and this is the string struck again."""
    times_s = moment.onset.time_s + np.array([-BEFORE_LEAP_S, MEANWHILE_S])
    before, after = (scene.carried_midi(one.string, times_s, written=True) + one.slip).tolist()
    there = track_midi(scene, track, float(times_s[1]))
    return bool(max(abs(there - before), abs(there - after)) < SLIP_SEMITONES)


def _leaps_with(left: Sequence[Departure], others: Iterable[Departure]) -> bool:
    """Whether a track leaps as one does whose string was left: the bar moves all strings or none."""
    return any(one.leap * other.leap > 0.0 for one in left[:1] for other in others)


def _beside(scene: Scene, one: Sounding, track: Track, moment: Moment, steady: Sequence[tuple[Sounding, Track]]) -> Way:
    """Where a string whose track has left it was around an onset: where it was before, and from there on as it is
    written but for how much further other strings went, if any tell. Of an even number of them the one that went less
    far tells."""
    onset_s = moment.onset.time_s
    here = track_midi(scene, track, onset_s - BEFORE_LEAP_S) + _written(scene, one, moment)
    if not steady:
        return Way(here)
    further = [
        _since(track_midis(scene, trail, onset_s + WAY_S)) - _written(scene, other, moment) for other, trail in steady
    ]
    return Way(here + nearest_middle(np.array(further)))


def _since(way: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far a way has gone since before a leap."""
    return way - float(np.interp(-BEFORE_LEAP_S, WAY_S, way))


def _written(scene: Scene, one: Sounding, moment: Moment) -> NDArray[np.float64]:
    """How far a string should have gone since before a leap, as the player's way may be drawn from it too."""
    return _since(scene.carried_midi(one.string, moment.onset.time_s + WAY_S, written=True))


def _is_captured(
    scene: Scene, one: Sounding, track: Track, moment: Moment, ringing: Sequence[tuple[Sounding, Track]]
) -> bool:
    """Whether a track left its string for another one that was struck: it leaps where no hand moved that far, and grows
    as far as that can be told."""
    own_db = gained_db(scene, track, moment)
    if own_db is not None and own_db <= LEAST_GAIN_DB:
        return False
    beside = [pair for pair in ringing if pair[0] is not one and not _is_lost(scene, pair[1], moment)]
    for after_s in _leaps_s(moment):
        leap, off = _leap(scene, one, track, after_s)
        # The way may be early for all of them, or drawn from where they are by the one that was struck.
        usual = [_leap(scene, other, trail, after_s)[1] for other, trail in beside] or [0.0]
        if abs(leap) > LEAP_SEMITONES and all(abs(off - other) >= SLIP_SEMITONES for other in usual):
            return True
    return False


def _goes_on(scene: Scene, one: Sounding, track: Track, moment: Moment) -> bool:
    """Whether a track goes through an onset without a leap and is not lost there, so that it tells how far the bar
    went."""
    leaps = [_leap(scene, one, track, after_s)[0] for after_s in _leaps_s(moment)]
    return max(map(abs, leaps)) < LEAP_SEMITONES and not _is_lost(scene, track, moment)


def _leaps_s(moment: Moment) -> list[float]:
    """The times around an onset by which a track may have leapt."""
    return [moment.onset.time_s + share * LEAP_S for share in (0.0, 0.5, 1.0)]


def _is_lost(scene: Scene, track: Track, moment: Moment) -> bool:
    gain_db = gained_db(scene, track, moment)
    return gain_db is not None and gain_db <= -LOST_DB


def _leap(scene: Scene, one: Sounding, track: Track, after_s: float) -> tuple[float, float]:
    """How far a track went within a moment, and how much further than its string should have; semitones."""
    before_s = after_s - LEAP_S
    leap = track_midi(scene, track, after_s) - track_midi(scene, track, before_s)
    return leap, leap - (scene.expected(one, after_s) - scene.expected(one, before_s))
