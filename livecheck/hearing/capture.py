"""Tracks that leave their strings for another one that was struck louder."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from livecheck.hearing.again import AGAIN_RISE
from livecheck.hearing.growth import gained_db, track_midi, track_midis
from livecheck.hearing.moment import AFTER_S, Moment
from livecheck.hearing.scene import SLIP_SEMITONES, Scene, Sounding
from livecheck.hearing.tracks import Track

LEAP_S, LEAP_SEMITONES = 0.05, 0.8
"""A track that leaps to what another string sounds leaps by nearly a semitone or more, sooner than a hand goes so
far."""
BEFORE_LEAP_S = 0.1
"""A track that leaps to what is struck has left its string by so much before."""
FAINT_RISE = 0.15
"""Under several strings that ring a stroke is no great rise: where another one is seen to go on, so faint an attack is
enough."""
LEAST_GAIN_DB = 1.0
"""A track that leaps to what is struck grows by more."""
LOST_DB = 10.0
"""A track that has lost so much by a leap did not move with its string."""
STILL_SEMITONES = 0.1
STAYED_PRESENCE, STAYED_FREE, STAYED_CENTS, STAYED_DB = 0.35, 0.2, 10.0, 3.0
"""Where a string stood still and is heard on, as loud as before, it did not go elsewhere."""


def captured(scene: Scene, moment: Moment, ringing: Sequence[tuple[Sounding, Track]]) -> set[int]:
    """The ringing strings whose tracks left them at an onset."""
    if moment.onset.rise < FAINT_RISE:
        return set()
    rang = [(one, track) for one, track in ringing if one.onset.time_s <= moment.onset.time_s - BEFORE_LEAP_S]
    gone = {one.string for one, track in rang if _is_captured(scene, one, track, moment, ringing)}
    leapt = {place: went for place, (_, track) in enumerate(rang) if (went := _leapt(scene, track, moment)) is not None}
    stayed = [went for place, went in leapt.items() if _has_stayed(scene, rang[place][1], moment, ringing)]
    # The bar moves all strings or none.
    return gone | {
        rang[place][0].string for place, went in leapt.items() if any(went * other > 0.0 for other in stayed)
    }


def _is_captured(
    scene: Scene, one: Sounding, track: Track, moment: Moment, ringing: Sequence[tuple[Sounding, Track]]
) -> bool:
    """Whether a track left its string for another one that was struck: it leaps where no hand moved that far, and grows
    as far as that can be told."""
    own_db = gained_db(scene, track, moment)
    if own_db is not None and own_db <= LEAST_GAIN_DB:
        return False
    beside = [pair for pair in ringing if pair[0] is not one and not _is_lost(scene, pair[1], moment)]
    if moment.onset.rise < AGAIN_RISE and not any(_goes_on(scene, *pair, moment) for pair in beside):
        return False
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


def _leapt(scene: Scene, track: Track, moment: Moment) -> float | None:
    """How far a track that stood still until an onset is away from there right after it, in semitones; None where it
    moved before or does not leap."""
    times_s = moment.onset.time_s + LEAP_S * np.array([-3.0, -2.0, -1.0, 0.0, 1.0, 2.0])
    midis = track_midis(scene, track, times_s)
    away = midis[3:] - midis[2]
    furthest = float(away[np.argmax(np.abs(away))])
    return furthest if np.ptp(midis[:3]) < STILL_SEMITONES and abs(furthest) >= SLIP_SEMITONES else None


def _has_stayed(scene: Scene, track: Track, moment: Moment, ringing: Sequence[tuple[Sounding, Track]]) -> bool:
    """Whether a string is heard on where it was while its track is elsewhere, as all tracks may be that a string struck
    louder has drawn away."""
    around_s = moment.onset.time_s + np.array([-LEAP_S, LEAP_S])
    others = [
        midi for _, other in ringing if other is not track for midi in track_midis(scene, other, around_s).tolist()
    ]
    there = moment.evidence(track_midi(scene, track, float(around_s[0])), others, STAYED_CENTS)
    return there.free > STAYED_FREE and there.presence > STAYED_PRESENCE and abs(there.gain_db) < STAYED_DB


def _is_lost(scene: Scene, track: Track, moment: Moment) -> bool:
    gain_db = gained_db(scene, track, moment)
    return gain_db is not None and gain_db <= -LOST_DB


def _leap(scene: Scene, one: Sounding, track: Track, after_s: float) -> tuple[float, float]:
    """How far a track went within a moment, and how much further than its string should have; semitones."""
    before_s = after_s - LEAP_S
    leap = track_midi(scene, track, after_s) - track_midi(scene, track, before_s)
    return leap, leap - (scene.expected(one, after_s) - scene.expected(one, before_s))


def where_left(
    scene: Scene, one: Sounding, track: Track, moment: Moment, kept: Sequence[tuple[Sounding, Track]]
) -> float:
    """Where a string whose track has left it is just after an onset: it has moved as it is written, since the player's
    way may have left it too, but for how much further the strings went that their tracks `kept` to, if any tell. Of an
    even number of them the one that went less far tells."""
    moved = _written_since(scene, one, moment)
    further = sorted(
        _since(scene, trail, moment) - _written_since(scene, other, moment)
        for other, trail in kept
        if _goes_on(scene, other, trail, moment)
    )
    if further:
        moved += min(further[(len(further) - 1) // 2], further[len(further) // 2], key=abs)
    return track_midi(scene, track, moment.onset.time_s - BEFORE_LEAP_S) + moved


def _since(scene: Scene, track: Track, moment: Moment) -> float:
    """How far a track has gone from before an onset to just after it, in semitones."""
    before_s, after_s = moment.onset.time_s - BEFORE_LEAP_S, moment.onset.time_s + AFTER_S
    return track_midi(scene, track, after_s) - track_midi(scene, track, before_s)


def _written_since(scene: Scene, one: Sounding, moment: Moment) -> float:
    """The same as it is written."""
    around_s = moment.onset.time_s + np.array([-BEFORE_LEAP_S, AFTER_S])
    return float(np.diff(scene.carried_midi(one.string, around_s, written=True))[0])
