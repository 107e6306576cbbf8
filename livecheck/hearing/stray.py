"""What was struck that nobody asked for: other strings, and ringing strings struck again."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.instead import LEAST_FREE, newly
from livecheck.hearing.median import median
from livecheck.hearing.moment import AFTER_S, LONGEST_S, Evidence, Moment
from livecheck.hearing.onset import Onset
from livecheck.hearing.partials import shadows, support
from livecheck.hearing.scene import SLIP_SEMITONES, Scene, Sounding
from livecheck.hearing.tracks import UNKNOWN_DB, Track
from livecheck.lesson.figure import Stance

STRAY_ACCEPT, STRAY_BESIDE_ACCEPT, STRAY_LOUD_ACCEPT = 0.5, 0.62, 0.36
"""How clearly a stray must be there: by itself, where asked strings are struck at the same moment, and where it is
loud."""
LOUD_GAIN_DB, LOUD_LEVEL_DB = 20.0, -12.0
ODD_PRESENCE = 0.25
STRAY_CENTS = 25.0
STRAY_LASTS_S = 0.15
STILL_THERE = 0.55
CROWDED_S, CROWDED_RISE = 0.09, 0.2
LINGER_S = 1.2
BETWEEN = 9
"""Pitches looked at between where a string was and where the bar takes it."""
RANG_ON_S = 0.07
"""So long after its end a string that was silenced in time is silent."""
PARTED_S = 0.1
"""An onset so long after a string's end has nothing to do with it."""
LEAP_S, LEAP_SEMITONES = 0.05, 1.0
FAINT_RISE = 0.15
"""An attack while the bar is moving stands out less from what the glide itself changes."""
GLIDING_SEMITONES = 0.35
"""What moves further while an onset is looked at is blurred in the usual look."""
CARRIED_BEFORE_S, CARRIED_AFTER_S, CARRIED_GAIN_DB = 0.2, 0.08, 4.0
"""A string that was ringing and is no louder after an onset than so much more has not been struck."""
MEANWHILE_S = (0.03, 0.09, 0.15)
CAPTURED_DB = 5.0
"""A track that leaps and grows so much at an onset has left its string for the one that was struck."""
AGAIN_RISE = 0.28
AGAIN_GAIN_DB = 1.0
"""How much a ringing string must grow to have been struck again."""
BESIDE_OTHERS_GAIN_DB = 3.5
"""Where others play in between, whose drums and basses raise a string's partials too; anything from 3.5 to 5.5 gives
the same verdicts on the benchmark."""
SURE_RISE, SURE_GAIN_DB, CLEAR_GAIN_DB = 0.4, 0.0, 3.0
"""After so clear an attack it need only be no weaker, unless another string has grown clearly: it may have been struck
a moment ago."""
LEAKED_DB, LEAK_DB = 5.0, 15.0
"""Another string's attack lends so much to one that grew less than that by the second."""
FADING_S, FASTEST_FADING_DB_S = 0.1, 30.0
LASTING_S, LASTING_DB = 0.15, 3.0
"""What a struck string has gained it still has after so long, but for so much; what an attack leaves is gone."""
JUST_BEFORE_S, JUST_AFTER_S = 0.055, 0.05
STILL_SEMITONES, STILL_BEFORE_S, STILL_WITHIN_S = 0.08, 0.2, 0.5
"""What moves less in four frames stands still."""
AGAIN_AFTER_S = 0.06


def strays(scene: Scene, sounding: Sequence[Sounding], tracks: Sequence[Track], used: set[int]) -> list[HeardNote]:
    """Strings that nobody asked for, struck at any onset; their curve is one point."""
    found = []
    for place, moment in enumerate(scene.moments):
        if _is_crowded(scene, moment):
            continue
        ringing = _ringing(moment, sounding, tracks)
        present = [_midi_after(scene, one, track, moment, ringing) for one, track in ringing]
        if moment.onset.rise < AGAIN_RISE:
            present += [midi for _, track in ringing for midi in _under_way(scene, track, moment)]
        lingering = _lingering(scene, moment, sounding, tracks)
        after_s = np.array([moment.onset.time_s + CARRIED_AFTER_S])
        present += [float(scene.carried_midi(string, after_s)[0]) for string in sorted(lingering)]
        stray = _stray(scene, moment, present, lingering, place in used)
        if stray is None:
            stray = _gliding_stray(scene, moment, ringing, lingering, place in used)
        found += [stray] if stray is not None else []
    return found


def _is_crowded(scene: Scene, moment: Moment) -> bool:
    """Whether another onset follows so soon that what sounds after this one cannot be told from what sounds after
    that."""
    start_s = moment.onset.time_s
    return any(
        start_s < other.onset.time_s < start_s + CROWDED_S and other.onset.rise > CROWDED_RISE
        for other in scene.moments
    )


def struck_again(
    scene: Scene, sounding: Sequence[Sounding], tracks: Sequence[Track], others: Sequence[HeardNote], used: set[int]
) -> list[list[Onset]]:
    """For each sounding string the onsets at which it was struck again while it rang."""
    again: list[list[Onset]] = [[] for _ in sounding]
    for place, moment in enumerate(scene.moments):
        explained = place in used or any(stray.start_s == moment.onset.time_s for stray in others)
        if explained or moment.onset.rise < AGAIN_RISE:
            continue
        still = _still_around(scene, moment, [track for _, track in _ringing(moment, sounding, tracks)])
        gains_db = {
            index: _again_db(scene, track, moment, *still)
            for index, (one, track) in enumerate(zip(sounding, tracks, strict=True))
            if _is_ringing(one, moment) and one.onset.time_s < moment.onset.time_s - AGAIN_AFTER_S
        }
        gains_db = _unhidden(gains_db, {index: _track_midi(scene, tracks[index], still[1]) for index in gains_db})
        most_db = max(gains_db.values(), default=0.0)
        sure = moment.onset.rise > SURE_RISE and most_db < CLEAR_GAIN_DB and not scene.has_background
        least_db = BESIDE_OTHERS_GAIN_DB if scene.has_background else AGAIN_GAIN_DB
        for index, gain_db in gains_db.items():
            leaked = gain_db < LEAKED_DB and most_db - gain_db > LEAK_DB
            if gain_db > (SURE_GAIN_DB if sure else least_db) and not leaked:
                again[index].append(moment.onset)
    return again


def _unhidden(gains_db: dict[int, float], midis: dict[int, float]) -> dict[int, float]:
    """Without the strings that hide behind another one that has grown: what grew is that one's for all one can tell."""
    return {
        index: gain_db
        for index, gain_db in gains_db.items()
        if not any(gains_db[i] > AGAIN_GAIN_DB and shadows(midis[i], midis[index]) for i in gains_db if i != index)
    }


def _ringing(moment: Moment, sounding: Sequence[Sounding], tracks: Sequence[Track]) -> list[tuple[Sounding, Track]]:
    return [(one, track) for one, track in zip(sounding, tracks, strict=True) if _is_ringing(one, moment)]


def _is_ringing(one: Sounding, moment: Moment) -> bool:
    return one.onset.time_s - 0.02 <= moment.onset.time_s < one.stop_s - 0.03


def _gained_db(scene: Scene, track: Track, before_s: float, after_s: float) -> float:
    """How much a ringing string grew between two times, all its partials and the middle one; nothing where that cannot
    be told. One partial of another string may hold the whole up, not the middle."""
    before, after = (scene.spectra.frame_at(time_s) - track.first for time_s in (before_s, after_s))
    if before < 1 or after >= len(track.db) - 1 or track.db[before] <= UNKNOWN_DB:
        return 0.0
    whole_db, middle_db = (
        median(db[after - 1 : after + 2]) - median(db[before - 1 : before + 2]) for db in (track.db, track.middle_db)
    )
    return min(whole_db, middle_db)


def _again_db(scene: Scene, track: Track, moment: Moment, before_s: float, after_s: float) -> float:
    """How much a ringing string grew for good at an onset, less what it would have faded until then."""
    just_before_s, just_after_s = _around(moment)
    waited_s = max(0.0, after_s - before_s - (just_after_s - just_before_s))
    fading_db_s = _gained_db(scene, track, before_s - FADING_S, before_s) / FADING_S
    faded_db = waited_s * float(np.clip(fading_db_s, -FASTEST_FADING_DB_S, 0.0))
    later_s = max(after_s, min(after_s + LASTING_S, _next_s(scene, moment) - JUST_BEFORE_S))
    grown_db = _gained_db(scene, track, before_s, after_s)
    return min(grown_db, _gained_db(scene, track, before_s, later_s) + LASTING_DB) - faded_db


def _around(moment: Moment) -> tuple[float, float]:
    """Just before and just after an onset."""
    return moment.onset.time_s - JUST_BEFORE_S, moment.onset.time_s + JUST_AFTER_S


def _still_around(scene: Scene, moment: Moment, tracks: Sequence[Track]) -> tuple[float, float]:
    """The times nearest to an onset, before and after it, at which all strings stand still: while they glide, their
    partials melt into those of the loudest. Just before and after it where they do not."""
    spectra = scene.spectra
    before_s, after_s = _around(moment)
    before, after = spectra.frame_at(before_s), spectra.frame_at(after_s)
    earlier = range(before, spectra.frame_at(moment.onset.time_s - STILL_BEFORE_S), -1)
    later = range(after, spectra.frame_at(_next_s(scene, moment) - JUST_BEFORE_S))
    return (
        float(spectra.times_s[next((frame for frame in earlier if _stand_still(tracks, frame)), before)]),
        float(spectra.times_s[next((frame for frame in later if _stand_still(tracks, frame)), after)]),
    )


def _stand_still(tracks: Sequence[Track], frame: int) -> bool:
    around = [t.midis[[frame - 2 - t.first, frame + 2 - t.first]] for t in tracks if t.holds(frame, 2)]
    return all(abs(later - earlier) < STILL_SEMITONES for earlier, later in around)


def _next_s(scene: Scene, moment: Moment) -> float:
    """When something else is struck after an onset; not later than a string is waited for to stand still."""
    start_s = moment.onset.time_s
    later = (m.onset.time_s for m in scene.moments if m.onset.time_s > start_s and m.onset.rise > AGAIN_RISE)
    return min([start_s + STILL_WITHIN_S, *later])


def _midi_after(
    scene: Scene, one: Sounding, track: Track, moment: Moment, ringing: Sequence[tuple[Sounding, Track]]
) -> float:
    """The pitch of a ringing string just after an onset: where it should be or was, before where its track went.

    A track may follow a stray that sounds louder than its own string.
    """
    after_s, before_s = moment.onset.time_s + 0.06, moment.onset.time_s - LEAP_S
    there = _track_midi(scene, track, after_s)
    candidates = [scene.expected(one, after_s)]
    if scene.spectra.frame_at(before_s) >= track.first:
        candidates.append(_track_midi(scene, track, before_s))
    for midi in candidates:
        if support(moment.peaks, np.array([midi - 0.1, midi, midi + 0.1]), ()).presence.max() >= STILL_THERE:
            return midi
    captured = abs(there - candidates[-1]) > SLIP_SEMITONES and _gained_db(scene, track, *_around(moment)) > CAPTURED_DB
    captured = captured or _is_captured(scene, one, track, moment, ringing)
    return candidates[0] if captured else there


def _under_way(scene: Scene, track: Track, moment: Moment) -> list[float]:
    """Where a ringing string is while the sound after an onset is looked at, if it moves meanwhile."""
    midis = [_track_midi(scene, track, moment.onset.time_s + later_s) for later_s in MEANWHILE_S]
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
    present, at, then = [], [], []
    for one, track in ringing:
        first, last = (scene.spectra.frame_at(t) - track.first for t in (first_s, last_s))
        if not 0 <= first < last < len(track.midis):
            continue
        then.append(abs(float(track.midis[last] - track.midis[first])))
        if _is_captured(scene, one, track, moment, ringing):
            present.append(_track_midi(scene, track, time_s - LEAP_S))
        else:
            present.append(float(track.midis[first]))
            at.append(present[-1] - stance.midi(one.string, scene.copedent) - scene.offset)
    if max(then, default=0.0) < GLIDING_SEMITONES:
        return None
    short = Moment.at(moment.onset, first_s, scene.spectra)
    off = float(np.median(at)) if at else 0.0
    return _best(scene, short, [(stance, 0.0, off)], present, lingering, beside)


def _track_midi(scene: Scene, track: Track, time_s: float) -> float:
    """Where a track is at a time; before its beginning and after its end, where it is there."""
    at = scene.spectra.frame_at(time_s) - track.first
    return float(track.midis[min(max(at, 0), len(track.midis) - 1)])


def _is_captured(
    scene: Scene, one: Sounding, track: Track, moment: Moment, ringing: Sequence[tuple[Sounding, Track]]
) -> bool:
    """Whether a track left its string for another one that was struck: it leaps where no hand moved that far."""
    if moment.onset.rise < AGAIN_RISE or one.onset.time_s > moment.onset.time_s - LEAP_S:
        return False
    after_s, before_s = moment.onset.time_s + LEAP_S, moment.onset.time_s - LEAP_S
    leaps = {
        id(other): _track_midi(scene, trail, after_s) - _track_midi(scene, trail, before_s) for other, trail in ringing
    }
    leap = leaps.pop(id(one))
    due = scene.expected(one, after_s) - scene.expected(one, before_s)
    alike = [abs(leap - other) < SLIP_SEMITONES for other in (due, *leaps.values())]
    return abs(leap) > LEAP_SEMITONES and not any(alike) and _gained_db(scene, track, *_around(moment)) > AGAIN_GAIN_DB


def _lingering(scene: Scene, moment: Moment, sounding: Sequence[Sounding], tracks: Sequence[Track]) -> set[int]:
    """Strings that should have fallen silent by an onset but still sounded just before it: they ring on, and move."""
    before_s = moment.onset.time_s - 0.06
    lingering = set()
    for one, track in zip(sounding, tracks, strict=True):
        if one.onset.time_s < before_s and before_s - LINGER_S < one.stop_s < moment.onset.time_s + 0.06:
            here = scene.stance_midi(one.string, moment.onset.time_s + 0.03)
            pitches = np.linspace(here, scene.expected(one, min(before_s, one.stop_s - 0.01)), BETWEEN)
            if (
                _sounds(scene, one, before_s, pitches, sounding)
                or _rang_on(scene, one, before_s, sounding)
                or _carried_on(scene, moment, one, track, sounding)
            ):
                lingering.add(one.string)
    return lingering


def _sounds(
    scene: Scene, one: Sounding, time_s: float, pitches: NDArray[np.float64], sounding: Sequence[Sounding]
) -> bool:
    return scene.is_there(time_s, pitches, scene.others_at(one, time_s, sounding))


def _rang_on(scene: Scene, one: Sounding, before_s: float, sounding: Sequence[Sounding]) -> bool:
    """Whether a string sounded on after its end, though it cannot be made out now because the bar is on its way."""
    time_s = one.stop_s + RANG_ON_S
    near = scene.carried_midi(one.string, time_s + np.array([-RANG_ON_S, 0.0, 2.0 * RANG_ON_S]))
    pitches = np.linspace(near.min(), near.max(), BETWEEN)
    return time_s < before_s and _sounds(scene, one, time_s, pitches, sounding)


def _carried_on(scene: Scene, moment: Moment, one: Sounding, track: Track, sounding: Sequence[Sounding]) -> bool:
    """Whether a string that the bar takes along just when others are struck is no louder than it was before."""
    earlier_s, later_s = one.stop_s - CARRIED_BEFORE_S, moment.onset.time_s + CARRIED_AFTER_S
    at = scene.spectra.frame_at(earlier_s) - track.first
    parted = abs(one.stop_s - moment.onset.time_s) > PARTED_S
    if parted or earlier_s <= one.onset.time_s + AGAIN_AFTER_S or not 0 <= at < len(track.midis):
        return False
    later = float(scene.carried_midi(one.string, np.array([later_s]))[0])
    before_db = scene.level_db(earlier_s, float(track.midis[at]), scene.others_at(one, earlier_s, sounding))
    after_db = scene.level_db(later_s, later, scene.others_at(one, later_s, sounding))
    return before_db is not None and after_db is not None and after_db < before_db + CARRIED_GAIN_DB


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
    return _best(scene, moment, stances, present, lingering, beside)


def _is_octave(moment: Moment, pitch: float, present: Sequence[float]) -> bool:
    """Whether what seems to be a pitch is the octave above it: none of its odd partials is there."""
    odd = moment.evidence(pitch, [*present, pitch + 12.0], STRAY_CENTS)
    return odd.free >= LEAST_FREE and odd.presence < ODD_PRESENCE


def _best(
    scene: Scene,
    moment: Moment,
    stances: Sequence[tuple[Stance, float, float]],
    present: Sequence[float],
    lingering: set[int],
    beside: bool,
) -> HeardNote | None:
    """The clearest stray of some stances, each with a price and how many semitones off it is."""
    time_s = moment.onset.time_s
    offers = [
        (price, stance.midi(string, scene.copedent) + scene.offset + off, string)
        for stance, price, off in stances
        for string in sorted(set(range(1, len(scene.copedent.strings) + 1)) - lingering)
    ]
    heard = newly(moment, [pitch for _, pitch, _ in offers], present, STRAY_CENTS)
    found = [
        (evidence.presence - price, pitch, string, evidence.midi)
        for (price, pitch, string), evidence in zip(offers, heard, strict=True)
        if evidence is not None
        and evidence.presence > _accept(moment, evidence, beside)
        and not _is_octave(moment, pitch, present)
    ]
    found = [one for one in found if not any(shadows(other[1], one[1]) for other in found)]
    if not found:
        return None
    _, pitch, string, midi = max(found)
    same = {s for _, p, s, _ in found if abs(p - pitch) < SLIP_SEMITONES}
    named = string if len(same) == 1 else None
    return HeardNote(named, time_s, time_s + STRAY_LASTS_S, np.array([time_s + 0.06]), np.array([midi]))
