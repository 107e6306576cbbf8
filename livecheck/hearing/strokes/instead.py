"""What sounds in place of a pick that was not found.

First the same strings with the bar, a pedal or a lever elsewhere, all strings of the step together, since that is how
hands and feet slip; then another string; then any pitch at all. What cannot be told from the strings that are there is
not believed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from livecheck.hearing.median import median
from livecheck.hearing.scene import Scene, Sounding
from livecheck.hearing.sound.moment import LONGEST_S, Evidence, Moment
from livecheck.hearing.sound.partials import is_shadow
from livecheck.hearing.sound.single import single_midi
from livecheck.hearing.strokes.emerging import SNAP_S, SOON_S, emerged
from livecheck.hearing.strokes.picks import ACCEPT, MIXED_DB, Asked, ways_before
from livecheck.lesson.figure import Bar, Stance

SLIP_ACCEPT = 0.45
SWAP_ACCEPT = 0.48
ANY_ACCEPT = 0.5
LEAST_FREE = 0.2
NEW_GAIN_DB, NEW_LEVEL_DB = 9.0, -20.0
"""What is struck grows by the first at least, and is no more than the second below the loudest."""
ALONE_GAIN_DB = 6.0
CLEAR_RISE = 0.22
MOST_FRETS = 2
FURTHEST = 7
APART = 0.7
"""Semitones by which anything else differs from what is there."""


def instead(
    scene: Scene, step: int, missing: Sequence[Asked], sounding: Sequence[Sounding], used: set[int]
) -> list[Sounding]:
    """What sounds in place of a step's missing picks; the moments that it takes are added to `used`."""
    places = _places(scene, step, missing, sounding, used)
    moments = [scene.moments[place] for place in places]
    present = [s.midi for s in sounding if s.asked.checkpoint.step == step]
    present += [p for p in missing[0].others if not _is_picked(scene, step, p)]
    if scene.step(step).swell:
        faded = _faded_in(scene, step, missing, present)
        if faded or not places:
            return faded
    elif not places:
        return []
    found = _slip(scene, step, missing, moments, present)
    for one, moment in zip(missing, moments, strict=True):
        if all(f.asked is not one for f in found):
            other = _swap(scene, step, one, moment, [*present, *(f.midi for f in found)])
            # What sounds where another of the missing strings is asked for is that one.
            due = [o.midi for o in missing if o is not one]
            found += [other] if other is not None and all(abs(other.midi - midi) >= APART for midi in due) else []
    used.update(p for one, p in zip(missing, places, strict=True) if any(f.asked is one for f in found))
    return found


def without_onsets_of(scene: Scene, places: set[int], some: Sequence[Sounding]) -> set[int]:
    """Places of moments without those at which some strings were struck."""
    return places - {place for place, m in enumerate(scene.moments) if any(m.onset is s.onset for s in some)}


def is_apart(pitch: float, present: Sequence[float]) -> bool:
    """Whether a pitch is none of some, nor hides behind one of them."""
    return not any(abs(pitch - other) < APART or is_shadow(other, pitch) for other in present)


def newly(
    moment: Moment, pitches: Sequence[float], present: Sequence[float], within_cents: float
) -> list[Evidence | None]:
    """What says that pitches that nobody asked for were struck at a moment beside those that are present; None for
    those that were not."""
    least_db = MIXED_DB if moment.driven else NEW_LEVEL_DB
    apart = [pitch for pitch in pitches if is_apart(pitch, present)]
    found = dict(zip(apart, moment.evidences(apart, present, within_cents), strict=True))
    struck = {
        pitch: evidence
        for pitch, evidence in found.items()
        if evidence.free >= LEAST_FREE and evidence.gain_db >= NEW_GAIN_DB and evidence.level_db >= least_db
    }
    return [struck.get(pitch) for pitch in pitches]


def new_presences(
    moment: Moment, pitches: Sequence[float], present: Sequence[float], within_cents: float
) -> list[float]:
    """0 to 1 for each such pitch: how clearly it is there."""
    return [0.0 if one is None else one.presence for one in newly(moment, pitches, present, within_cents)]


def _is_picked(scene: Scene, step: int, midi: float) -> bool:
    """Whether a pitch is one that a step picks."""
    picked = [note.checkpoints[0] for note in scene.score.expectation.notes if note.checkpoints[0].step == step]
    return any(abs(scene.score.sounding(checkpoint) - midi) < 0.01 for checkpoint in picked)


def _places(
    scene: Scene, step: int, missing: Sequence[Asked], sounding: Sequence[Sounding], used: set[int]
) -> list[int]:
    """For each missing string the moment at which it was due: with the step's other strings, else the clearest near
    its time that a hand may have made; what is left of an echo brings less."""
    if not scene.moments:
        return []
    siblings = [s for s in sounding if s.asked.checkpoint.step == step]
    if missing[0].roll_s > 0.0:
        late_s = median([s.onset.time_s - s.asked.window.expected_s for s in siblings]) if siblings else 0.0
        return [_nearest(scene, one.window.expected_s + late_s) for one in missing]
    if siblings:
        onsets_s = sorted(s.onset.time_s for s in siblings)
        came_s = onsets_s[(len(onsets_s) - 1) // 2]
        nearest = _nearest(scene, came_s)
        # Where these were faded in there may be no onset.
        is_far = abs(scene.moments[nearest].onset.time_s - came_s) > SNAP_S
        return [] if is_far else [nearest] * len(missing)
    # A string that was to be faded in lacks an onset: only one that is due is that of a wrong string struck instead.
    reach_s = SOON_S if scene.step(step).swell else math.inf
    due_s = missing[0].window.expected_s
    clear = [
        (moment.onset.rise - abs(moment.onset.time_s - due_s), place)
        for place, moment in enumerate(scene.moments)
        if place not in used
        and moment.onset.rise > CLEAR_RISE
        and moment.new_db >= scene.softest_db
        and _may_be_of(scene, missing[0], moment.onset.time_s, sounding)
        and abs(moment.onset.time_s - due_s) < reach_s
    ]
    if not clear:
        return []
    chosen_s = scene.moments[max(clear)[1]].onset.time_s
    near = [place for _, place in clear if abs(scene.moments[place].onset.time_s - chosen_s) < LONGEST_S]
    # Of onsets so close to each other a hand made the one that brings most: a drum may be the clearer one.
    return [max(near, key=lambda place: scene.moments[place].new_db)] * len(missing)


def _may_be_of(scene: Scene, one: Asked, time_s: float, sounding: Sequence[Sounding]) -> bool:
    """Whether a hand may have picked a string that was not found at a time: no nearer to another pick than to its own
    time, nor far from that where the bar or a pedal moves."""
    if not one.window.holds(time_s):
        return False
    if one.is_far(time_s) and any(way.holds(time_s) for way in ways_before(scene.score, one.note)):
        return False
    away_s = abs(time_s - one.window.expected_s)
    return all(away_s <= abs(time_s - other.onset.time_s) for other in sounding)


def _nearest(scene: Scene, time_s: float) -> int:
    return int(np.argmin([abs(moment.onset.time_s - time_s) for moment in scene.moments]))


def _slip(
    scene: Scene, step: int, missing: Sequence[Asked], moments: Sequence[Moment], present: Sequence[float]
) -> list[Sounding]:
    """The same strings with the bar or a pedal elsewhere."""
    best: list[Sounding] = []
    best_value = 0.0
    for moves, cost in _moves(scene, step, missing):
        pitches = [one.midi + move for one, move in zip(missing, moves, strict=True)]
        found, granted = list[Sounding](), list[Sounding]()
        value = -cost
        for at in sorted(range(len(missing)), key=lambda at: pitches[at]):
            one, pitch, moment = missing[at], pitches[at], moments[at]
            others = [*present, *(p for p, o in zip(pitches, missing, strict=True) if o is not one)]
            evidence = moment.evidence(pitch, [o for o in others if not is_shadow(o, pitch)], 35.0)
            is_told = evidence.free >= LEAST_FREE
            struck = moment.struck(evidence) if is_told else 0.0
            follows = any(is_shadow(f.midi, pitch) for f in found)
            hides = follows or any(is_shadow(other, pitch) for other in present)
            if follows and is_told and evidence.presence >= SLIP_ACCEPT:
                # It goes where the string goes that it hides behind, and does not seem to grow if struck after it.
                struck = max(struck, SLIP_ACCEPT)
            value += struck / len(missing)
            if struck >= ACCEPT and abs(moves[at]) >= 0.5:
                proves = struck >= SLIP_ACCEPT and not hides
                (found if proves else granted).append(Sounding(one, moment.onset, evidence.midi, one.note.string))
        # What hides behind a string that is there proves nothing by itself; where others prove that the bar or a pedal
        # was elsewhere, a string needs to be there no more clearly than one that is where it was asked for.
        found += granted if found else []
        # What hides may be right where it was asked for: that it slipped explains no other string that is missing.
        explains = any(not f.asked.hidden for f in found) or all(one.hidden for one in missing)
        if found and explains and value > best_value:
            best, best_value = found, value
    return best


def _faded_in(scene: Scene, step: int, missing: Sequence[Asked], present: Sequence[float]) -> list[Sounding]:
    """The same strings with the bar or a pedal elsewhere, faded in."""
    best: list[Sounding] = []
    best_value = 0.0
    for moves, cost in _moves(scene, step, missing):
        pitches = [one.midi + move for one, move in zip(missing, moves, strict=True)]
        found = []
        for one, pitch, move in zip(missing, pitches, moves, strict=True):
            others = [*present, *(p for p, o in zip(pitches, missing, strict=True) if o is not one)]
            seen = tuple(other for other in others if not is_shadow(other, pitch))
            came = emerged(scene, replace(one, midi=pitch, others=seen)) if abs(move) >= 0.5 else None
            if came is not None:
                found.append(Sounding(one, came.onset, came.midi, one.note.string))
        if len(found) / len(missing) - cost > best_value:
            best, best_value = found, len(found) / len(missing) - cost
    return best


def _moves(scene: Scene, step: int, missing: Sequence[Asked]) -> Iterator[tuple[list[float], float]]:
    """By how many semitones each missing string would sound elsewhere, for all that may have been held instead and
    makes a difference, with a price."""
    asked_stance = scene.step(step).stance
    for stance, cost in _stances(scene, step):
        moves = [
            stance.midi(o.note.string, scene.copedent) - asked_stance.midi(o.note.string, scene.copedent)
            for o in missing
        ]
        if any(abs(move) >= 0.5 for move in moves):
            yield moves, cost


def _stances(scene: Scene, step: int) -> Iterator[tuple[Stance, float]]:
    """What may have been held instead of a step's stance, with a price: the likelier, the cheaper."""
    stance = scene.step(step).stance
    before = scene.step(step - 1).stance if step > 1 else stance
    if before.bar != stance.bar:
        yield replace(stance, bar=before.bar), 0.0
    if before.down != stance.down:
        yield replace(stance, down=before.down), 0.0
    yield before, 0.02
    for name in scene.copedent.changes:
        down = {other: amount for other, amount in stance.down.items() if other != name}
        yield replace(stance, down=down if name in stance.down else {**down, name: 1.0}), 0.05
    for frets in (f for f in range(-MOST_FRETS, MOST_FRETS + 1) if f):
        bar = Bar(tuple((string, fret + frets) for string, fret in stance.bar.frets))
        if min(fret for _, fret in bar.frets) >= 0:
            yield replace(stance, bar=bar), 0.02 * abs(frets)


def _swap(scene: Scene, step: int, one: Asked, moment: Moment, present: Sequence[float]) -> Sounding | None:
    """Another string, or any other pitch, struck in place of one."""
    stance = scene.step(step).stance
    strings = sorted(set(range(1, len(scene.copedent.strings) + 1)) - set(scene.step(step).pick))
    pitches = [stance.midi(string, scene.copedent) + scene.offset for string in strings]
    options = [
        (presence - 0.03 * abs(string - one.note.string), pitch, string)
        for presence, pitch, string in zip(new_presences(moment, pitches, present, 45.0), pitches, strings, strict=True)
    ]
    value, pitch, string = max(options, default=(0.0, 0.0, 0))
    if value > SWAP_ACCEPT:
        return Sounding(one, moment.onset, pitch, string)
    if not present and len(scene.step(step).pick) == 1:
        return _alone(scene, one, moment)
    away = [semitones for semitones in range(-FURTHEST, FURTHEST + 1) if semitones]
    pitches = [one.midi + semitones for semitones in away]
    offers = [
        (presence - 0.01 * abs(semitones), pitch)
        for presence, semitones, pitch in zip(new_presences(moment, pitches, present, 50.0), away, pitches, strict=True)
    ]
    value, pitch = max(offers)
    if value <= ANY_ACCEPT:
        return None
    return Sounding(one, moment.onset, moment.evidence(pitch, present, 50.0).midi, one.note.string)


def _alone(scene: Scene, one: Asked, moment: Moment) -> Sounding | None:
    """Whatever pitch was struck where one string was to sound alone."""
    start_s = moment.onset.time_s + 0.06
    later = [m.onset.time_s for m in scene.moments if m.onset.time_s > start_s]
    midi = single_midi(scene.recording, start_s, min([start_s + 0.25, *(t - 0.03 for t in later)]))
    if midi is None or abs(midi - one.midi) < 0.5 or moment.evidence(midi, ()).gain_db < ALONE_GAIN_DB:
        return None
    return Sounding(one, moment.onset, midi, one.note.string)
