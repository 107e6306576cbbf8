"""What was struck that nobody asked for: other strings than the lesson's."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from livecheck.hearing.curves.track import Track
from livecheck.hearing.heard import HeardNote
from livecheck.hearing.median import medians
from livecheck.hearing.scene import SLIP_SEMITONES, WINDOW, Scene, Sounding
from livecheck.hearing.sound.moment import AFTER_S, LONGEST_S, Moment
from livecheck.hearing.sound.partials import shadows, support
from livecheck.hearing.strokes.instead import newly
from livecheck.hearing.unasked.again import AGAIN_RISE, BACK_DB, ringing_at
from livecheck.hearing.unasked.capture import Left, captured
from livecheck.hearing.unasked.carried import carried_along, courses, recent
from livecheck.hearing.unasked.departure import LEAP_S
from livecheck.hearing.unasked.growth import growth, is_coming, track_midi, track_midis
from livecheck.hearing.unasked.lingering import CARRIED_AFTER_S, lingering_at, silenced_by
from livecheck.hearing.unasked.offer import STRAY_CENTS, STRUCK_SHARE, Proof, Stray, best, in_stances, on_their_way
from livecheck.hearing.unasked.straightened import WAY_S, straightened

STILL_THERE = 0.55
STILL_S = 0.3
"""What has stood still for so long has not just come there."""
CROWDED_S, CROWDED_RISE, CROWDED_SHARE = 0.09, 0.2, 0.5
FAINT_RISE = 0.15
"""An attack while the bar is moving stands out less from what the glide itself changes."""
GLIDING_SEMITONES = 0.35
"""What moves further while an onset is looked at is blurred in the usual look."""
MEANWHILE_S = (0.03, 0.09, 0.15)
WAY_SEMITONES = 0.4
"""How densely the way of the bar is looked at for a stray, which is heard within `STRAY_CENTS`."""
NEARBY = np.linspace(-0.9, 0.9, 19)
"""Semitones around a track on a fast glide, in which no other string lies."""
BACK_GAIN_DB = 3.0
"""What hides a stray was struck again if it grew by so much and came back to what it was, but for `BACK_DB`."""
CAPTURED_DB = 5.0
"""A track that has gone elsewhere than it should and grows so much at an onset may have left its string."""


@dataclass(frozen=True)
class _Ringing:
    """What sounds at an onset already."""

    asked: Sequence[tuple[Sounding, Track]]
    """Strings of the figure, with their tracks."""
    captured: Mapping[Sounding, Left]
    """Those of them whose tracks left them for what was struck."""
    lingering: set[int]
    """Strings that should be silent."""
    carried: Mapping[int, Track]
    """Strays of a moment ago, with their tracks."""
    along: Sequence[HeardNote]
    """The same as notes: a track may have gone from one to a string that rings beside it."""

    def others(self, scene: Scene) -> set[int]:
        """The strings that may have been struck."""
        return scene.strings - {one.string for one in self.captured} - self.lingering - set(self.carried)


def strays(scene: Scene, sounding: Sequence[Sounding], tracks: Sequence[Track], used: set[int]) -> list[HeardNote]:
    """Strings that nobody asked for, struck at any onset; their curve is one point."""
    found: list[HeardNote] = []
    for place, moment in enumerate(scene.moments):
        if _is_soon_followed(scene, moment):
            continue
        asked = ringing_at(moment, sounding, tracks)
        gone = captured(scene, moment, asked)
        present = [
            gone[one].way.at(AFTER_S) if one in gone else _midi_after(scene, index, asked, moment)
            for index, (one, _) in enumerate(asked)
        ]
        if moment.onset.rise < AGAIN_RISE:
            kept = [(one, track) for one, track in asked if one not in gone]
            present += [midi for one, track in kept for midi in _under_way(scene, one, track, moment)]
        lingering = lingering_at(scene, moment, sounding, tracks)
        if place not in used:
            lingering -= _struck_anew(scene, moment, present, lingering)
        elif scene.is_hushed_before(moment.onset):
            lingering = set()
        along = recent(moment, found) if moment.onset.rise < AGAIN_RISE else []
        carried = carried_along(scene, along)
        lingering -= set(carried)
        after_s = np.array([moment.onset.time_s + CARRIED_AFTER_S])
        lingering -= silenced_by(scene, moment, lingering, present) if place in used else set()
        present += [float(scene.carried_midi(string, after_s)[0]) for string in sorted(lingering)]
        present += _soon_struck(moment, sounding)
        now = _Ringing(asked, gone, lingering, carried, along)
        # While the bar is on its way no string is where either step has it.
        stray = _gliding_stray(scene, moment, now, place in used)
        if stray is None:
            around_s = moment.onset.time_s + np.array([0.0, *MEANWHILE_S])
            present += [midi for track in carried.values() for midi in track_midis(scene, track, around_s).tolist()]
            present += courses(scene, now.along, around_s)
            stray = _stray(scene, moment, present, now, place in used, not _glides(scene, moment, now))
        if stray is not None and not _is_struck_again(scene, moment, now, stray, place in used):
            found.append(stray.note)
    return found


def _struck_anew(scene: Scene, moment: Moment, present: Sequence[float], lingering: set[int]) -> set[int]:
    """Strings that ring on, as in a room that does, and grow as much as a struck string where they stand still: what
    moves is new wherever it gets to."""
    times_s = moment.onset.time_s + np.array([-STILL_S, -STILL_S / 2, 0.0, LONGEST_S])
    ways = {string: scene.carried_midi(string, times_s) for string in sorted(lingering)}
    still = {string: float(way[2]) for string, way in ways.items() if np.ptp(way) < GLIDING_SEMITONES}
    heard = newly(moment, list(still.values()), present, STRAY_CENTS)
    return {string for string, evidence in zip(still, heard, strict=True) if evidence is not None}


def _is_struck_again(scene: Scene, moment: Moment, now: _Ringing, stray: Stray, beside: bool) -> bool:
    """Whether what seems to be a stray hides behind a ringing string that came back to what it was, or brings less than
    half of all that is new beside one: that was struck again, and is not quite where it was looked for. One that
    is still being faded in grows by itself. `beside`: whether asked strings are struck at the same moment."""
    is_less = not beside and stray.share < STRUCK_SHARE
    for index, (one, track) in enumerate(now.asked):
        there = track_midi(scene, track, moment.onset.time_s + AFTER_S)
        if one in now.captured or is_coming(one, moment.onset.time_s):
            continue
        if is_less or shadows(there, float(stray.note.midis[0])):
            grown = growth(scene, moment, index, now.asked)
            if grown.gain_db > BACK_GAIN_DB and grown.back_db > -BACK_DB:
                return True
    return False


def _soon_struck(moment: Moment, sounding: Sequence[Sounding]) -> list[float]:
    """The pitches of the strings that are struck while the sound after an onset is looked at, as in a rolled grip."""
    start_s = moment.onset.time_s
    return [one.midi for one in sounding if start_s < one.onset.time_s < start_s + LONGEST_S]


def _is_soon_followed(scene: Scene, moment: Moment) -> bool:
    """Whether another onset follows so soon that what sounds after this one cannot be told from what sounds after
    that."""
    start_s = moment.onset.time_s
    return any(
        start_s < other.onset.time_s < start_s + CROWDED_S
        and other.onset.rise > max(CROWDED_RISE, CROWDED_SHARE * moment.onset.rise)
        for other in scene.moments
    )


def _midi_after(scene: Scene, index: int, ringing: Sequence[tuple[Sounding, Track]], moment: Moment) -> float:
    """The pitch of a string that rings, just after an onset: where it should be or was, before where its track went.

    A track may follow a stray that sounds louder than its own string; then the player's way may follow it too. Where
    another one has come by then, what sounds is that one.
    """
    one, track = ringing[index]
    after_s, before_s = moment.onset.time_s + 0.06, moment.onset.time_s - LEAP_S
    there, due = track_midi(scene, track, after_s), scene.expected(one, after_s)
    candidates = [due]
    if scene.spectra.frame_at(before_s) >= track.first:
        candidates.append(track_midi(scene, track, before_s))
    frame = scene.spectra.frame_at(after_s)
    taken = [track_midi(scene, t, after_s) for other, t in ringing if other is not one and t.holds(frame, 0)]
    for midi in candidates:
        if any(abs(midi - other) < SLIP_SEMITONES < abs(there - other) for other in taken):
            continue
        if support(moment.peaks, np.array([midi - 0.1, midi, midi + 0.1]), ()).presence.max() >= STILL_THERE:
            return midi
    rang = one.onset.time_s < before_s
    far = rang and abs(there - candidates[-1]) > SLIP_SEMITONES
    return due if far and growth(scene, moment, index, ringing).gain_db > CAPTURED_DB else there


def _under_way(scene: Scene, one: Sounding, track: Track, moment: Moment) -> list[float]:
    """Where a ringing string is while the sound after an onset is looked at, if it moves meanwhile; and where it should
    have come by then, as what a room holds up may hold its track."""
    times_s = moment.onset.time_s + np.array(MEANWHILE_S)
    due = float(scene.course(one, times_s[-1:], written=True)[0])
    midis = track_midis(scene, track, times_s).tolist()
    return [*midis, due] if max(midis) - min(midis) > SLIP_SEMITONES else [due]


def _gliding_stray(scene: Scene, moment: Moment, now: _Ringing, beside: bool) -> Stray | None:
    """A stray that glides from its start on, because the bar is on its way: looked for in one short frame, as if the
    bar stood still."""
    if moment.onset.rise < FAINT_RISE:
        return None
    time_s = moment.onset.time_s
    stance = scene.step_at(time_s, 0.1).stance
    first_s, last_s = time_s + AFTER_S, time_s + LONGEST_S
    present = [track_midi(scene, track, first_s) for track in now.carried.values()]
    present += courses(scene, now.along, np.array([first_s]))
    # A track may have been with that stray ever since.
    present += [scene.expected(one, first_s) for one, _ in now.asked if now.carried]
    off, ways, then, left = [], [], [], []
    for one, track in now.asked:
        first, last = (scene.spectra.frame_at(t) - track.first for t in (first_s, last_s))
        if not 0 <= first < last < len(track.midis):
            continue
        then.append(abs(float(track.midis[last] - track.midis[first])))
        here = stance.midi(one.string, scene.copedent) + scene.offset
        if one in now.captured:
            gone = now.captured[one]
            midi = gone.way.at(AFTER_S)
            left.append(midi)
            ways.append(gone.way.midis - midi)
            off += [(gone.way.at(-LEAP_S) - here, midi - here)] if gone.is_heard else []
        else:
            midi = float(track.midis[first])
            present.append(midi)
            ways.append(track_midis(scene, track, time_s + WAY_S) - midi)
            off.append((track_midi(scene, track, time_s - LEAP_S) - here, midi - here))
    if max(then, default=0.0) < GLIDING_SEMITONES:
        return None
    others = now.others(scene)
    # The strings that ring may have been drawn elsewhere, or feet move too: then it is where they were, where the way
    # is, or the line.
    offers = on_their_way(scene, np.linspace(time_s, first_s, 3), others)
    begun, since = medians(np.array(off)).tolist() if off else (0.0, 0.0)
    between = np.linspace(begun, since, 1 + math.ceil(abs(since - begun) / WAY_SEMITONES))
    offers += in_stances(scene, [(stance, 0.0, way) for way in between.tolist()], others)
    looks = [Moment.at(moment.onset, first_s, scene.spectra)]
    if ways:
        still = straightened(scene.recording, moment.onset, time_s + WAY_S, medians(ways), WINDOW)
        present += [_nearby(still, midi) for midi in present]
        looks.append(still)
    present += left
    proof = Proof.of(scene, beside, still=True)
    found = [best(replace(look, driven=moment.driven), offers, present, proof) for look in looks]
    return max((stray for stray in found if stray is not None), key=lambda stray: stray.clear, default=None)


def _glides(scene: Scene, moment: Moment, now: _Ringing) -> bool:
    """Whether all that rings moves on while the sound after an onset is looked at."""
    first_s, last_s = moment.onset.time_s + AFTER_S, moment.onset.time_s + LONGEST_S
    gone = [
        abs(track_midi(scene, track, last_s) - track_midi(scene, track, first_s))
        for one, track in now.asked
        if one not in now.captured
    ]
    return min(gone, default=0.0) >= SLIP_SEMITONES


def _nearby(still: Moment, midi: float) -> float:
    """Where a string really is near its track, which lags a little where it moves fast."""
    near = midi + NEARBY
    return float(near[np.argmax(support(still.peaks, near, ()).presence)])


def _stray(
    scene: Scene, moment: Moment, present: Sequence[float], now: _Ringing, beside: bool, still: bool
) -> Stray | None:
    """A string of the stance, this step's or the one's before, that nobody asked for, struck at a moment; what moves on
    meanwhile, if all is not `still`, may be where none is thought to be."""
    step = scene.step_at(moment.onset.time_s, 0.1)
    stances = [(step.stance, 0.0, 0.0)]
    if step.number > 1:
        stances.append((scene.step(step.number - 1).stance, 0.05, 0.0))
    offers = in_stances(scene, stances, now.others(scene))
    offers += on_their_way(scene, np.array([moment.onset.time_s + AFTER_S]), now.others(scene))
    return best(moment, offers, present, Proof.of(scene, beside, still))
