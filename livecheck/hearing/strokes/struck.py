"""Which strings of an attempt were struck: first as they were asked for, then what sounds in place of those that are
missing, be it another string, or the bar or a pedal elsewhere."""

from __future__ import annotations

import math
from collections.abc import Sequence

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.scene import Scene, Sounding
from livecheck.hearing.sound.moment import FULL_GAIN_DB
from livecheck.hearing.sound.partials import is_shadow
from livecheck.hearing.strokes.emerging import emerged
from livecheck.hearing.strokes.instead import instead, without_onsets_of
from livecheck.hearing.strokes.picks import ACCEPT, MASKED_FREE, Asked, Struck, asked_of, lay

DUE_S, DUE_RISE = 0.12, 0.3
GRANTED_CENTS, BY_ITSELF = 30.0, 0.6
MIMICKED_CENTS, CLEAR_PRESENCE = 25.0, 0.75


def struck_strings(scene: Scene) -> tuple[list[Sounding], set[int]]:
    """The strings that were struck, in order of time, and the places of the moments at which they were.

    A string that hides behind another one was only taken for granted, so it is looked at again where its step went
    wrong.
    """
    asked = asked_of(scene.score)
    laid = lay(asked, scene.moments)
    faded = _faded_in(scene, laid)
    struck = _without_alone(asked, [s if before is None else None for s, before in zip(laid, faded, strict=True)])
    used = {s.moment for s in struck if s}
    sounding = [
        Sounding(s.asked, scene.moments[s.moment].onset, s.evidence.midi, s.asked.note.string) for s in struck if s
    ]
    sounding += [before for before in faded if before]
    lost = []
    for one in (o for o, s, before in zip(asked, struck, faded, strict=True) if s is None and before is None):
        came = None if _has_onset(scene, one, used) else emerged(scene, one)
        if came is not None and any(
            came.onset is scene.moments[place].onset for place in used - _places_of(struck, one)
        ):
            came = None
        if came is None:
            lost.append(one)
        else:
            sounding.append(came)
    with_others = [_came_with(one, sounding) for one in lost]
    sounding += [came for came in with_others if came]
    lost = [one for one, came in zip(lost, with_others, strict=True) if came is None]
    for step in sorted({one.checkpoint.step for one in lost}):
        sounding = _looked_again(scene, step, [one for one in lost if one.checkpoint.step == step], sounding, used)
    return sorted(sounding, key=lambda s: (s.onset.time_s, s.string)), used


def _looked_again(
    scene: Scene, step: int, lost: Sequence[Asked], sounding: Sequence[Sounding], used: set[int]
) -> list[Sounding]:
    """The strings that were struck, with what was struck at a step instead of those that were lost there; the places of
    its moments are added to `used`."""
    hidden = [s for s in sounding if s.asked.checkpoint.step == step and _is_granted(scene, s)]
    rest = [s for s in sounding if s not in hidden]
    missing = [*lost, *(s.asked for s in hidden)]
    free = without_onsets_of(scene, used, hidden)
    found = instead(scene, step, missing, rest, free)
    siblings = [s for s in rest if s.asked.checkpoint.step == step]
    # What spoke for these may all be partials of what was struck instead of another: perhaps the bar was off. Of a
    # rolled grip nothing may have been found because they tell at which moments it is looked for.
    misled = not found and bool(missing) and scene.step(step).roll > 0
    mimicked = siblings if misled else [s for s in siblings if _is_mimicked(scene, s, missing, found)]
    for gone in [mimicked] if mimicked == siblings else [mimicked, siblings]:
        others = [s for s in rest if s not in gone]
        places = without_onsets_of(scene, free, gone)
        every = [*missing, *(s.asked for s in gone)]
        together = instead(scene, step, every, others, places) if gone else []
        own = [f.asked for f in together if f.string == f.asked.note.string]
        is_whole = bool(gone) and len(own) == len(together) and all(any(one is s.asked for one in own) for s in gone)
        explains = len(own) > len(gone) and all(_is_mimicked(scene, s, every, together) for s in [*gone, *found])
        if is_whole and (explains or (gone is mimicked and not misled)):
            found, rest, free = together, others, places
            break
    used |= free
    return [*rest, *found, *(s for s in hidden if all(f.asked is not s.asked for f in found))]


def _is_mimicked(scene: Scene, one: Sounding, missing: Sequence[Asked], found: Sequence[Sounding]) -> bool:
    """Whether nothing speaks for a string but partials of what was struck instead of others of its step."""
    if any(is_shadow(f.midi, one.midi) for f in found):
        return True
    moment = scene.moment_of(one.onset)
    if not found or moment is None:
        return False
    gone = [o.midi for o in missing]
    others = [*(o for o in one.asked.others if all(abs(o - midi) > 0.01 for midi in gone)), *(f.midi for f in found)]
    left = moment.evidence(one.midi, others, MIMICKED_CENTS)
    return left.free < MASKED_FREE or left.presence < ACCEPT


def _faded_in(scene: Scene, laid: Sequence[Struck | None]) -> list[Sounding | None]:
    """The strings that are to be faded in, where they came nearer to their time than they seem to be struck."""
    return [_nearer(scene, s) if s is not None and s.asked.checkpoint.swell else None for s in laid]


def _nearer(scene: Scene, one: Struck) -> Sounding | None:
    struck_s, due_s = scene.moments[one.moment].onset.time_s, one.asked.window.expected_s
    if one.asked.hidden:
        return None
    came = [c for until_s in (struck_s, math.inf) if (c := emerged(scene, one.asked, until_s)) is not None]
    nearest = min(came, key=lambda c: abs(c.onset.time_s - due_s), default=None)
    return nearest if nearest is not None and abs(nearest.onset.time_s - due_s) < abs(struck_s - due_s) else None


def _without_alone(asked: Sequence[Asked], struck: Sequence[Struck | None]) -> list[Struck | None]:
    """What was struck, without the strings that are to be faded in with others, hide behind them, and would have been
    struck where none of these was: what hides proves no time of its own."""
    shown = {one.checkpoint.step for one in asked if not one.hidden}
    times = {(s.asked.checkpoint.step, s.moment) for s in struck if s is not None and not s.asked.hidden}
    return [None if s is not None and _is_alone(s, shown, times) else s for s in struck]


def _is_alone(one: Struck, shown: set[int], times: set[tuple[int, int]]) -> bool:
    step = one.asked.checkpoint.step
    hides = one.asked.checkpoint.swell and one.asked.hidden
    return hides and step in shown and (step, one.moment) not in times


def _came_with(one: Asked, sounding: Sequence[Sounding]) -> Sounding | None:
    """A string that was to be faded in and hides behind another one came with the others of its step, if any did."""
    if not (one.checkpoint.swell and one.hidden):
        return None
    came = [s.onset for s in sounding if s.asked.checkpoint.step == one.checkpoint.step and not s.asked.hidden]
    return Sounding(one, came[0], one.midi, one.note.string) if came else None


def _has_onset(scene: Scene, one: Asked, used: set[int]) -> bool:
    """Whether an onset that nothing explains lies where a pick was due: then something was struck, though not this
    string."""
    if one.checkpoint.swell:
        return False
    due_s = one.window.expected_s
    return any(
        abs(moment.onset.time_s - due_s) < DUE_S and moment.onset.rise > DUE_RISE and place not in used
        for place, moment in enumerate(scene.moments)
    )


def _places_of(struck: Sequence[Struck | None], one: Asked) -> set[int]:
    """The moments at which the other strings of a pick's step were struck."""
    return {s.moment for s in struck if s is not None and s.asked.checkpoint.step == one.checkpoint.step}


def _is_granted(scene: Scene, one: Sounding) -> bool:
    """Whether a string that hides behind another one was taken for granted, its partials not being there by
    themselves."""
    if not one.asked.hidden or not scene.moments:
        return False
    moment = min(scene.moments, key=lambda m: abs(m.onset.time_s - one.onset.time_s))
    return moment.evidence(one.asked.midi, one.asked.others, GRANTED_CENTS).presence < BY_ITSELF


def without_mimicked(scene: Scene, sounding: Sequence[Sounding], others: Sequence[HeardNote]) -> list[Sounding]:
    """Where the partials that spoke for a string are those of a stray that was struck at the same moment, or sounded as
    loud before, the string was not."""
    kept = list(sounding)
    for stray in others:
        for one in [s for s in kept if s.onset.time_s == stray.start_s and not s.asked.hidden]:
            moment = scene.moment_of(one.onset)
            if moment is None:
                continue
            alone = moment.evidence(one.midi, one.asked.others, MIMICKED_CENTS)
            beside = moment.evidence(one.midi, [*one.asked.others, float(stray.midis[0])], MIMICKED_CENTS)
            lent = beside.free >= MASKED_FREE and beside.presence < ACCEPT and alone.presence < CLEAR_PRESENCE
            rang = alone.free >= MASKED_FREE and alone.gain_db <= 0.0
            if lent or rang:
                kept.remove(one)
    return kept


def without_hidden(scene: Scene, sounding: Sequence[Sounding], others: Sequence[HeardNote]) -> list[Sounding]:
    """Where a stray was struck together with a string that was only taken for granted, the stray was struck in its
    place."""
    kept = list(sounding)
    for stray in others:
        together = [s for s in kept if s.asked.hidden and s.onset.time_s == stray.start_s]
        hidden = [s for s in together if not _is_new(scene, s, kept, stray)]
        if hidden:
            kept.remove(min(hidden, key=lambda s: abs(s.string - (stray.string or s.string))))
    return kept


def _is_new(scene: Scene, one: Sounding, sounding: Sequence[Sounding], stray: HeardNote) -> bool:
    """Whether a string that hides behind others shows beside a stray all the same: these only rang on, and what they
    share with it grew."""
    moment = scene.moment_of(one.onset)
    if moment is None or any(s.onset is one.onset and is_shadow(s.midi, one.midi) for s in sounding):
        return False
    beside = moment.evidence(one.midi, [*one.asked.others, float(stray.midis[0])], MIMICKED_CENTS)
    return beside.free >= MASKED_FREE and beside.presence >= ACCEPT and beside.gain_db >= FULL_GAIN_DB
