"""Ringing strings that were struck again though nobody asked for it.

In: the sounding strings with their tracks, and the onsets that nothing else explains. Out: for each string the onsets
at which it was struck again. A struck string grows, and is about as loud as when it was struck first: hands are even.
Another string's attack lends it a little, or to one partial.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence, Set
from dataclasses import replace

from livecheck.hearing.curves.track import Track
from livecheck.hearing.heard import HeardNote
from livecheck.hearing.scene import Scene, Sounding
from livecheck.hearing.sound.moment import Moment
from livecheck.hearing.sound.onset import Onset
from livecheck.hearing.unasked.growth import JUST_AFTER_S, JUST_BEFORE_S, Growth, growth, track_midi, track_midis
from livecheck.hearing.unasked.straightened import WAY_S, risen

AGAIN_RISE = 0.28
SOFT_RISE, SOFT_GAIN_DB = 0.2, 2.0
"""So soft an attack counts where a string grew so much by it."""
AGAIN_GAIN_DB = 0.5
"""How much a ringing string must grow to have been struck again."""
BESIDE_OTHERS_GAIN_DB = 3.5
"""Where others play in between, whose drums and basses raise a string's partials too; anything from 3.5 to 5.5 gives
the same verdicts on the benchmark."""
OWN_SHARE = 0.9
"""An onset that brings hardly anything but partials of strings that ring is none of other players."""
SURE_RISE = 0.4
STRUCK_DB = 6.0
"""After a clear attack by which no string came back to what it was, the one that grew so much was struck, though it
may be by partials that others have as well."""
BROUGHT_SHARE = 0.7
"""Of several strings a clear attack struck those near whose partials lies so much of what is new where others have
none: a string may lose by its own stroke, which ends what it rang with."""
EVEN_DB = 12.0
"""Strokes on strings that are struck together bring what the first ones did, but for so much, as hands are even."""
WHOLE_DB = 3.0
"""One that is back to that but for so little may have been struck with the others, though it hardly grew; one that
went on fading was not."""
BACK_DB = 6.0
"""Unless it grew clearly by a clear attack, what was struck again lacks no more than that of what it was: by a stroke
what has faded far grows much."""
MOVED_SEMITONES = 0.5
"""Where a string moves so far from right before an onset to right after it, it is looked how much is new beyond that:
bright strings' partials rise wherever they go."""
RUSH_SEMITONES = 4.0
"""A string that moves so far from right before an onset to right after it is a smear before it arrives: it seems to
grow then, and a glide so fast is an onset of its own. Only a clear attack is a stroke there."""
AGAIN_AFTER_S = 0.09
"""So soon after a string was struck, the sound before an onset is still that from before the string was."""
NEXT_S = 0.08
"""So soon before a pick the sound after an onset is already the pick's."""
TWICE_S = 0.08
"""Nobody strikes again so soon."""


def struck_again(
    scene: Scene, sounding: Sequence[Sounding], tracks: Sequence[Track], others: Sequence[HeardNote], used: set[int]
) -> list[list[Onset]]:
    """For each sounding string the onsets at which it was struck again while it rang."""
    again: list[list[Onset]] = [[] for _ in sounding]
    for place, moment in enumerate(scene.moments):
        onset = moment.onset
        explained = place in used or any(stray.start_s == onset.time_s for stray in others)
        last_s = max((onsets[-1].time_s for onsets in again if onsets), default=-math.inf)
        covered = any(0.0 < scene.moments[pick].onset.time_s - onset.time_s < NEXT_S for pick in used)
        if explained or covered or onset.rise < SOFT_RISE or onset.time_s - last_s < TWICE_S:
            continue
        ringing = [index for index, one in enumerate(sounding) if _is_ringing(one, moment)]
        around = [(sounding[index], tracks[index]) for index in ringing]
        pitches = [track_midi(scene, track, onset.time_s + JUST_AFTER_S) for _, track in around]
        came_from = [track_midi(scene, track, onset.time_s - JUST_BEFORE_S) for _, track in around]
        moved = [abs(now - then) for now, then in zip(pitches, came_from, strict=True)]
        most = max(moved, default=0.0)
        least_rise = SURE_RISE if most > RUSH_SEMITONES else SOFT_RISE
        if onset.rise < least_rise:
            continue
        brought_db, share = moment.brought(pitches, ())
        if brought_db < scene.softest_db:
            continue
        # Only now, as it costs more than all before.
        stroke = _still(scene, onset, around[moved.index(most)][1]) if most > MOVED_SEMITONES else onset
        if stroke.rise < least_rise:
            continue
        grown = {
            index: growth(scene, moment, index, around)
            for index, (one, _) in enumerate(around)
            if _struck_s(one, sounding) < onset.time_s - AGAIN_AFTER_S
        }
        if any(_is_struck_first(around[index][0], one) for index, one in grown.items()):
            continue
        steps = [one.asked.checkpoint.step for one, _ in around]
        beside_others = scene.has_background and share < OWN_SHARE
        struck = _struck(stroke, grown, steps, beside_others, moment.driven)
        # Of what moves all partials are new where they come to; what mixes lies near any.
        if stroke.rise > SURE_RISE and most <= MOVED_SEMITONES and not (beside_others or moment.driven):
            struck |= _bringing(grown, struck)
        # Where others play, a clear attack or that a string grew may be theirs.
        if not scene.has_background or any(_came_back(grown[index]) for index in struck):
            for index in struck:
                again[ringing[index]].append(onset)
    return again


def _still(scene: Scene, onset: Onset, track: Track) -> Onset:
    """An onset as it would be if the string whose track this is had not moved, nor the others with it."""
    times_s = onset.time_s + WAY_S
    bar = track_midis(scene, track, times_s) - track_midi(scene, track, onset.time_s)
    return replace(onset, rise=min(onset.rise, risen(scene.recording, onset, times_s, bar)))


def _is_struck_first(sounding: Sounding, one: Growth) -> bool:
    """Whether a string is so much louder than when it was struck, by partials of its own and by all that it had to
    itself then, that it was not struck then, but is now: some of its partials alone may have been soft then."""
    louder_db = min(one.back_db, one.most_back_db)
    return louder_db > EVEN_DB and not one.behind and not sounding.asked.checkpoint.swell


def _came_back(one: Growth) -> bool:
    """Whether a string is what it was when it was struck: only its own stroke makes one that has faded as loud as that
    was."""
    return one.back_db > (-WHOLE_DB if one.gain_db < BESIDE_OTHERS_GAIN_DB else -BACK_DB)


def _struck_s(one: Sounding, sounding: Sequence[Sounding]) -> float:
    """When a string's pick was over: of a rolled grip, when its last string was struck. In a fast roll one string's
    attack may be taken for the next one's."""
    if one.asked.roll_s <= 0.0:
        return one.onset.time_s
    return max(other.onset.time_s for other in sounding if other.asked.checkpoint.step == one.asked.checkpoint.step)


def _struck(
    onset: Onset, grown: Mapping[int, Growth], steps: Sequence[int], beside_others: bool, driven: bool
) -> set[int]:
    """Which of the ringing strings an onset struck again; `steps`: at which step each was picked; `beside_others`:
    whether it may be one of other players; `driven`: whether the sound is."""
    soft = onset.rise < AGAIN_RISE
    least_db = max(SOFT_GAIN_DB if soft else AGAIN_GAIN_DB, BESIDE_OTHERS_GAIN_DB if beside_others else -math.inf)
    most_db = min(0.0, max((one.back_db for one in grown.values()), default=0.0))
    gains_db = {index: one.gain_db + _faded_db(grown, index) for index, one in grown.items()}
    # What strings mix to in driven sound beats, and swells all of them or what one shares with a lower one; of a stroke
    # that a limiter leaves room for those that were not struck lose.
    beats = driven and soft and len(grown) > 1 and all(one.gain_db > 0.0 for one in grown.values())
    grew = {
        index
        for index, one in grown.items()
        if gains_db[index] > least_db
        and (
            one.back_db > -BACK_DB
            if soft or gains_db[index] < SOFT_GAIN_DB
            else one.back_db + _brought_db(one.gain_db) > most_db - EVEN_DB
        )
        and not (driven and soft and one.behind)
        and not beats
    }
    # What hides behind a string that grew as well is no more than that one.
    grew |= {low for index in grew for low in grown[index].behind if low in grown and _lends(grown[low])}
    by_themselves = {index for index in grew if not grown[index].behind}
    struck = {index for index in grew if by_themselves.isdisjoint(grown[index].behind)}
    beside = {index: {other for other in grown if other != index and steps[other] == steps[index]} for index in grown}
    hidden = {index for index, one in grown.items() if one.behind}
    struck |= {
        i
        for i in grown.keys() - struck
        if _is_struck_with(beside[i], hidden, struck, grown[i], i in grew, _lower(grown, i, struck))
    }
    if driven and struck and not soft:
        struck |= {i for i, one in grown.items() if _loses_nothing(one)}
    if struck or onset.rise <= SURE_RISE:
        return struck
    return _likeliest(grown, beside_others)


def _brought_db(gain_db: float) -> float:
    """What is new of a string that grew, in dB of all there is of it then; none of what did not grow."""
    return 10.0 * math.log10(max(1.0 - 10.0 ** (-gain_db / 10.0), 1e-10))


def _likeliest(grown: Mapping[int, Growth], beside_others: bool) -> set[int]:
    """The string that a clear attack struck by which none came back to what it was, if any did."""
    most = {index: max(one.gain_db, one.shared_db) for index, one in grown.items()}
    index = max(most, key=most.__getitem__, default=-1)
    by_itself = len(grown) == 1 and not beside_others
    alone = by_itself and (grown[index].gain_db > AGAIN_GAIN_DB or _holds(grown[index]))
    if alone or most.get(index, -math.inf) > STRUCK_DB:
        return {index}
    return set() if beside_others else _loud_alone(grown)


def _bringing(grown: Mapping[int, Growth], struck: Set[int]) -> set[int]:
    """Those of several strings that brought nearly all that an attack brought where others leave them room, none of
    which hides behind another one that was struck; of one alone that tells nothing, as whatever shakes it brings the
    same."""
    if len(grown) == 1:
        return set()
    bringing = {index for index, one in grown.items() if one.share > BROUGHT_SHARE}
    return {index for index in bringing if (bringing | struck).isdisjoint(grown[index].behind)}


def _loud_alone(grown: Mapping[int, Growth]) -> set[int]:
    """The one of several strings that is about as loud as when it was struck while all others have faded far."""
    loud = {index for index, one in grown.items() if one.back_db > -BACK_DB}
    faded = {index for index, one in grown.items() if one.back_db < -EVEN_DB}
    return loud if len(loud) == 1 and faded and loud | faded == grown.keys() else set()


def _holds(one: Growth) -> bool:
    """Whether a string is as loud as when it was struck and fades no more, as after a stroke where a limiter, such as
    an amplifier that is driven, leaves it nothing to grow by."""
    return one.gain_db > -AGAIN_GAIN_DB and one.back_db > -WHOLE_DB


def _loses_nothing(one: Growth) -> bool:
    """Whether a string is as loud as before an onset by which another one grew, and about as loud as when it was
    struck: an amplifier that is driven gives what one gains out of what the others have, so that a string that was not
    struck as well would lose more than by fading."""
    return not one.behind and one.gain_db >= 0.0 and one.back_db > -WHOLE_DB


def _lends(one: Growth) -> bool:
    """Whether a string came back to what it was and grew, be it softly."""
    return one.gain_db > AGAIN_GAIN_DB and one.back_db > -WHOLE_DB


def _is_struck_with(
    beside: Set[int], hidden: Set[int], struck: Set[int], one: Growth, grew: bool, lower: Sequence[Growth]
) -> bool:
    """Whether a string of which that cannot be told by itself was struck with others: hands repeat a grip as a whole.
    `lower`: those that it hides behind and that were struck. Of two strings one may have been struck alone; then what
    the upper one shares with it is not what it was, as far as the lower one's own came back to that, nor did it come
    back growing by far more than that: nothing lends more than it gained."""
    lower_db = max((other.back_db for other in lower), default=0.0)
    is_back = one.back_db > lower_db - WHOLE_DB and not -math.inf < one.gain_db < 0.0
    if len(beside) > 1:
        seen = beside - hidden
        return (seen if len(seen) > 1 else beside) <= struck and (bool(one.behind) or is_back)
    outgrew = bool(lower) and one.gain_db > max(other.gain_db for other in lower) + STRUCK_DB
    return bool(one.behind) and grew and (is_back or (outgrew and one.back_db > -BACK_DB))


def _lower(grown: Mapping[int, Growth], index: int, struck: Set[int]) -> list[Growth]:
    """Those that a string hides behind, if they were struck again."""
    return [grown[low] for low in grown[index].behind if low in struck]


def _faded_db(grown: Mapping[int, Growth], index: int) -> float:
    """What a string must have faded by an onset for all one can tell: as much as each of the others has of which that
    can be told, if it did not fade itself."""
    others_db = max((one.gain_db for i, one in grown.items() if i != index and one.gain_db > -math.inf), default=0.0)
    return -min(0.0, others_db) if grown[index].gain_db > 0.0 else 0.0


def ringing_at(moment: Moment, sounding: Sequence[Sounding], tracks: Sequence[Track]) -> list[tuple[Sounding, Track]]:
    """The strings that ring at an onset, with their tracks."""
    return [(one, track) for one, track in zip(sounding, tracks, strict=True) if _is_ringing(one, moment)]


def _is_ringing(one: Sounding, moment: Moment) -> bool:
    return one.onset.time_s - 0.02 <= moment.onset.time_s < one.stop_s - 0.03
