"""What was struck that nobody asked for: other strings than the lesson's."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.again import AGAIN_GAIN_DB, AGAIN_RISE, around, gained_db, ringing, track_midi
from livecheck.hearing.heard import HeardNote
from livecheck.hearing.instead import LEAST_FREE, newly
from livecheck.hearing.lingering import CARRIED_AFTER_S, lingering_at
from livecheck.hearing.moment import AFTER_S, LONGEST_S, Evidence, Moment
from livecheck.hearing.partials import SHADOW_SEMITONES, shadows, support
from livecheck.hearing.scene import SLIP_SEMITONES, Scene, Sounding
from livecheck.hearing.tracks import Track
from livecheck.lesson.figure import Stance

STRAY_ACCEPT, STRAY_BESIDE_ACCEPT, STRAY_LOUD_ACCEPT = 0.5, 0.62, 0.36
"""How clearly a stray must be there: by itself, where asked strings are struck at the same moment, and where it is
loud."""
LOUD_GAIN_DB, LOUD_LEVEL_DB = 20.0, -12.0
OTHERS_PRESENCE = 0.25
STRAY_CENTS = 25.0
STRAY_LASTS_S = 0.15
STILL_THERE = 0.55
STILL_S = 0.3
"""What has stood still for so long has not just come there."""
STRAY_S = 0.6
"""How long a stray is thought to ring."""
CROWDED_S, CROWDED_RISE, CROWDED_SHARE = 0.09, 0.2, 0.5
LEAP_S, LEAP_SEMITONES = 0.05, 0.8
"""A track that leaps to what another string sounds leaps by a semitone at least, sooner than a hand goes so far."""
BEFORE_LEAP_S = 0.1
"""A track that leaps to what is struck has left its string by so much before."""
LOST_DB = 10.0
"""A track that has lost so much by a leap did not move with its string."""
FAINT_RISE = 0.15
"""An attack while the bar is moving stands out less from what the glide itself changes."""
GLIDING_SEMITONES = 0.35
"""What moves further while an onset is looked at is blurred in the usual look."""
MEANWHILE_S = (0.03, 0.09, 0.15)
WAY_SEMITONES = 0.4
"""How densely the way of the bar is looked at for a stray, which is heard within `STRAY_CENTS`."""
CAPTURED_DB = 5.0
"""A track that leaps and grows so much at an onset has left its string for the one that was struck."""


def strays(scene: Scene, sounding: Sequence[Sounding], tracks: Sequence[Track], used: set[int]) -> list[HeardNote]:
    """Strings that nobody asked for, struck at any onset; their curve is one point."""
    found: list[HeardNote] = []
    for place, moment in enumerate(scene.moments):
        if _is_crowded(scene, moment):
            continue
        sounding_now = ringing(moment, sounding, tracks)
        present = [_midi_after(scene, one, track, moment, sounding_now) for one, track in sounding_now]
        if moment.onset.rise < AGAIN_RISE:
            present += [midi for _, track in sounding_now for midi in _under_way(scene, track, moment)]
        lingering = lingering_at(scene, moment, sounding, tracks)
        if place not in used:
            lingering -= _struck_anew(scene, moment, present, lingering)
        if moment.onset.rise < AGAIN_RISE:
            lingering |= _carried_along(scene, moment, found)
        after_s = np.array([moment.onset.time_s + CARRIED_AFTER_S])
        present += [float(scene.carried_midi(string, after_s)[0]) for string in sorted(lingering)]
        present += _soon_struck(moment, sounding)
        # While the bar is on its way no string is where either step has it.
        stray = _gliding_stray(scene, moment, sounding_now, lingering, place in used)
        if stray is None:
            stray = _stray(scene, moment, present, lingering, place in used)
        found += [stray] if stray is not None else []
    return found


def _struck_anew(scene: Scene, moment: Moment, present: Sequence[float], lingering: set[int]) -> set[int]:
    """Strings that ring on, as in a room that does, and grow as much as a struck string where they stand still: what
    moves is new wherever it gets to."""
    times_s = moment.onset.time_s + np.array([-STILL_S, -STILL_S / 2, 0.0, LONGEST_S])
    ways = {string: scene.carried_midi(string, times_s) for string in sorted(lingering)}
    still = {string: float(way[2]) for string, way in ways.items() if np.ptp(way) < GLIDING_SEMITONES}
    heard = newly(moment, list(still.values()), present, STRAY_CENTS)
    return {string for string, evidence in zip(still, heard, strict=True) if evidence is not None}


def _carried_along(scene: Scene, moment: Moment, found: Sequence[HeardNote]) -> set[int]:
    """Strings that were struck a moment ago, though nobody asked for it, and which the bar takes along: what that
    changes may be an onset of its own."""
    carried = set[int]()
    for stray in found:
        if moment.onset.time_s - STRAY_S < stray.start_s < moment.onset.time_s:
            at_s = np.array([stray.start_s + AFTER_S])
            pitches = {string: float(scene.carried_midi(string, at_s)[0]) for string in _strings(scene)}
            nearest = min(abs(pitch - stray.midis[0]) for pitch in pitches.values())
            carried |= {s for s, pitch in pitches.items() if abs(pitch - stray.midis[0]) < nearest + SLIP_SEMITONES}
    return carried


def _strings(scene: Scene) -> range:
    return range(1, len(scene.copedent.strings) + 1)


def _soon_struck(moment: Moment, sounding: Sequence[Sounding]) -> list[float]:
    """The pitches of the strings that are struck while the sound after an onset is looked at, as in a rolled grip."""
    start_s = moment.onset.time_s
    return [one.midi for one in sounding if start_s < one.onset.time_s < start_s + LONGEST_S]


def _is_crowded(scene: Scene, moment: Moment) -> bool:
    """Whether another onset follows so soon that what sounds after this one cannot be told from what sounds after
    that."""
    start_s = moment.onset.time_s
    return any(
        start_s < other.onset.time_s < start_s + CROWDED_S
        and other.onset.rise > max(CROWDED_RISE, CROWDED_SHARE * moment.onset.rise)
        for other in scene.moments
    )


def _midi_after(
    scene: Scene, one: Sounding, track: Track, moment: Moment, ringing: Sequence[tuple[Sounding, Track]]
) -> float:
    """The pitch of a ringing string just after an onset: where it should be or was, before where its track went.

    A track may follow a stray that sounds louder than its own string; then the player's way may follow it too.
    """
    captured = _is_captured(scene, one, track, moment, ringing)
    after_s, before_s = moment.onset.time_s + 0.06, moment.onset.time_s - (BEFORE_LEAP_S if captured else LEAP_S)
    there, due = track_midi(scene, track, after_s), scene.expected(one, after_s)
    candidates = [due]
    if scene.spectra.frame_at(before_s) >= track.first:
        candidates.insert(0 if captured else 1, track_midi(scene, track, before_s))
    for midi in candidates:
        if support(moment.peaks, np.array([midi - 0.1, midi, midi + 0.1]), ()).presence.max() >= STILL_THERE:
            return midi
    if captured:
        return _unless_captured(scene, one, track, moment)
    far = abs(there - candidates[-1]) > SLIP_SEMITONES
    return due if far and gained_db(scene, track, *around(moment))[0] > CAPTURED_DB else there


def _under_way(scene: Scene, track: Track, moment: Moment) -> list[float]:
    """Where a ringing string is while the sound after an onset is looked at, if it moves meanwhile."""
    midis = [track_midi(scene, track, moment.onset.time_s + later_s) for later_s in MEANWHILE_S]
    return midis if max(midis) - min(midis) > SLIP_SEMITONES else []


def _gliding_stray(
    scene: Scene, moment: Moment, ringing: Sequence[tuple[Sounding, Track]], lingering: set[int], beside: bool
) -> HeardNote | None:
    """A stray that glides from its start on, because the bar is on its way: looked for in one short frame."""
    if moment.onset.rise < FAINT_RISE:
        return None
    time_s = moment.onset.time_s
    stance = scene.step_at(time_s, 0.1).stance
    first_s, last_s = time_s + AFTER_S, time_s + LONGEST_S
    present, gone, then = [], [], []
    for one, track in ringing:
        first, last = (scene.spectra.frame_at(t) - track.first for t in (first_s, last_s))
        if not 0 <= first < last < len(track.midis):
            continue
        then.append(abs(float(track.midis[last] - track.midis[first])))
        if _is_captured(scene, one, track, moment, ringing):
            present.append(_unless_captured(scene, one, track, moment))
        else:
            present.append(float(track.midis[first]))
            here = stance.midi(one.string, scene.copedent) + scene.offset
            gone.append((track_midi(scene, track, time_s - LEAP_S) - here, present[-1] - here))
    if max(then, default=0.0) < GLIDING_SEMITONES:
        return None
    short = Moment.at(moment.onset, first_s, scene.spectra)
    # What is heard in the frame is something between where it was struck and where the bar has taken it by then.
    begun, since = np.median(gone, axis=0) if gone else (0.0, 0.0)
    ways = np.linspace(begun, since, 1 + math.ceil(abs(since - begun) / WAY_SEMITONES))
    offers = _offers(scene, [(stance, 0.0, off) for off in ways.tolist()], lingering)
    # With no string to tell, or where feet move too, it is where the way is, or the line.
    offers += _on_their_way(scene, np.linspace(time_s, first_s, 3), lingering)
    return _best(short, offers, present, beside)


def _is_captured(
    scene: Scene, one: Sounding, track: Track, moment: Moment, ringing: Sequence[tuple[Sounding, Track]]
) -> bool:
    """Whether a track left its string for another one that was struck: it leaps where no hand moved that far."""
    if moment.onset.rise < AGAIN_RISE or one.onset.time_s > moment.onset.time_s - BEFORE_LEAP_S:
        return False
    if gained_db(scene, track, *around(moment))[0] <= AGAIN_GAIN_DB:
        return False
    beside = [
        trail for other, trail in ringing if other is not one and gained_db(scene, trail, *around(moment))[0] > -LOST_DB
    ]
    for after_s in (moment.onset.time_s + share * LEAP_S for share in (0.0, 0.5, 1.0)):
        before_s = after_s - LEAP_S
        leap, *leaps = (
            track_midi(scene, trail, after_s) - track_midi(scene, trail, before_s) for trail in (track, *beside)
        )
        due = scene.expected(one, after_s) - scene.expected(one, before_s)
        if abs(leap) > LEAP_SEMITONES and not any(abs(leap - other) < SLIP_SEMITONES for other in (due, *leaps)):
            return True
    return False


def _unless_captured(scene: Scene, one: Sounding, track: Track, moment: Moment) -> float:
    """Where a string whose track has left it is just after an onset: it has moved as it is written, since the player's
    way may have left it too."""
    before_s, after_s = moment.onset.time_s - BEFORE_LEAP_S, moment.onset.time_s + AFTER_S
    moved = float(np.diff(scene.carried_midi(one.string, np.array([before_s, after_s]), written=True))[0])
    return track_midi(scene, track, before_s) + moved


def _accept(moment: Moment, evidence: Evidence, beside: bool) -> float:
    """How clearly a stray must be there: less so where an onset that nothing else explains brought it in loud."""
    if beside:
        return STRAY_BESIDE_ACCEPT
    loud = moment.onset.rise >= AGAIN_RISE and evidence.gain_db >= LOUD_GAIN_DB and evidence.level_db >= LOUD_LEVEL_DB
    return STRAY_LOUD_ACCEPT if loud else STRAY_ACCEPT


def _stray(
    scene: Scene, moment: Moment, present: Sequence[float], lingering: set[int], beside: bool
) -> HeardNote | None:
    """A string of the stance, this step's or the one's before, that nobody asked for, struck at a moment."""
    step = scene.step_at(moment.onset.time_s, 0.1)
    stances = [(step.stance, 0.0, 0.0)]
    if step.number > 1:
        stances.append((scene.step(step.number - 1).stance, 0.05, 0.0))
    offers = _offers(scene, stances, lingering)
    offers += _on_their_way(scene, np.array([moment.onset.time_s + AFTER_S]), lingering)
    return _best(moment, offers, present, beside)


def _is_higher(moment: Moment, pitch: float, present: Sequence[float]) -> bool:
    """Whether what seems to be a pitch is the octave or the twelfth above it: none of its other partials is there."""
    for above in SHADOW_SEMITONES[:2].tolist():
        others = moment.evidence(pitch, [*present, pitch + above], STRAY_CENTS)
        if others.free >= LEAST_FREE and others.presence < OTHERS_PRESENCE:
            return True
    return False


def _has_its_own(moment: Moment, pitch: float, clear: Mapping[float, float], present: Sequence[float]) -> bool:
    """Whether a pitch was struck for all that is left of it without each of some others that it may hide; where too
    little is, it must be clear: a knock on the body with a string's partials above it is no string, and has no
    overtones of its own. `clear`: how clearly each pitch is there."""
    for other in (other for other in clear if shadows(pitch, other)):
        if moment.evidence(pitch, [*present, other], STRAY_CENTS).free < LEAST_FREE:
            if moment.evidence(pitch, present, STRAY_CENTS).presence < STRAY_ACCEPT:
                return False
        elif newly(moment, [pitch], [*present, other], STRAY_CENTS) == [None]:
            return False
        overtones = moment.overtones(pitch, [*present, other], STRAY_CENTS)
        if clear[pitch] < clear[other] if overtones is None else overtones < OTHERS_PRESENCE:
            return False
    return True


def _offers(
    scene: Scene, stances: Sequence[tuple[Stance, float, float]], lingering: set[int]
) -> list[tuple[float, float, int]]:
    """Prices, pitches and strings of what may have been struck in some stances, each with a price and how many
    semitones off it is."""
    return [
        (price, stance.midi(string, scene.copedent) + scene.offset + off, string)
        for stance, price, off in stances
        for string in _strings(scene)
        if string not in lingering
    ]


def _on_their_way(scene: Scene, times_s: NDArray[np.float64], lingering: set[int]) -> list[tuple[float, float, int]]:
    """The same where bar and pedals have strings at some times, as they were followed and as the line has them."""
    strings = [string for string in _strings(scene) if string not in lingering]
    followed, written = (scene.carried_midis(strings, times_s, as_written) for as_written in (False, True))
    return [
        (0.0, midi, string)
        for string, here, there in zip(strings, followed, written, strict=True)
        for midi in (*here.tolist(), *there.tolist())
    ]


def _best(
    moment: Moment, offers: Sequence[tuple[float, float, int]], present: Sequence[float], beside: bool
) -> HeardNote | None:
    """The clearest stray among some offers: prices, pitches and strings."""
    time_s = moment.onset.time_s
    heard = newly(moment, [pitch for _, pitch, _ in offers], present, STRAY_CENTS)
    found = [
        (evidence.presence - price, pitch, string, evidence.midi)
        for (price, pitch, string), evidence in zip(offers, heard, strict=True)
        if evidence is not None
        and evidence.presence > _accept(moment, evidence, beside)
        and not _is_higher(moment, pitch, present)
    ]
    clear = {pitch: presence for presence, pitch, _, _ in found}
    found = [one for one in found if _has_its_own(moment, one[1], clear, present)]
    found = [one for one in found if not any(shadows(other[1], one[1]) for other in found)]
    if not found:
        return None
    _, pitch, string, midi = max(found)
    same = {s for _, p, s, _ in found if abs(p - pitch) < SLIP_SEMITONES}
    named = string if len(same) == 1 else None
    return HeardNote(named, time_s, time_s + STRAY_LASTS_S, np.array([time_s + 0.06]), np.array([midi]))
