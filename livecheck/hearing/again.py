"""Ringing strings that were struck again though nobody asked for it.

In: the sounding strings with their tracks, and the onsets that nothing else explains. Out: for each string the onsets
at which it was struck again. A struck string grows for good; another string's attack lends it a little, for a moment,
or to one partial.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.median import median
from livecheck.hearing.moment import Moment
from livecheck.hearing.onset import Onset
from livecheck.hearing.partials import UNISON_SEMITONES, shadows
from livecheck.hearing.scene import Scene, Sounding
from livecheck.hearing.tracks import UNKNOWN_DB, Track

AGAIN_RISE = 0.28
SOFT_RISE, SOFT_GAIN_DB = 0.2, 4.0
"""So soft an attack counts where a string grew so much by it."""
FAR_SEMITONES = 3.0
"""So far away a string is louder or softer by itself: by a soft attack on such a way nothing can be told."""
AGAIN_GAIN_DB = 1.0
"""How much a ringing string must grow to have been struck again."""
BESIDE_OTHERS_GAIN_DB = 3.5
"""Where others play in between, whose drums and basses raise a string's partials too; anything from 3.5 to 5.5 gives
the same verdicts on the benchmark."""
SURE_RISE, SURE_GAIN_DB, CLEAR_GAIN_DB = 0.4, 0.0, 3.0
"""After so clear an attack it need only be no weaker, unless another string has grown clearly: it may have been struck
a moment ago."""
STRUCK_DB = 6.0
"""After a clear attack by which no string grew for good, the one that grew so much for a moment was struck."""
OWN_SHARE = 0.9
"""An onset that brings hardly anything but partials of strings that stand still was a stroke on one of them."""
OWN_GAIN_DB = 3.0
SHARED_LESS_DB = 3.0
"""Where only the lower of two strings is struck again, the partials that the upper one has too grow so much less: they
were held up by both."""
LEAKED_DB, LEAK_DB = 5.0, 15.0
"""Another string's attack lends so much to one that grew less than that by the second."""
FADING_S, FADING_SEMITONES, FASTEST_FADING_DB_S = 0.1, 0.2, 30.0
SILENCED_DB = 10.0
"""Where all strings lost so much they were silenced, and what lasts cannot be asked."""
LASTING_S, LASTING_DB = 0.15, 3.0
"""What a struck string has gained it still has after so long, but for so much; what an attack leaves is gone."""
JUST_BEFORE_S, JUST_AFTER_S = 0.055, 0.05
STILL_SEMITONES, STILL_BEFORE_S, STILL_WITHIN_S = 0.08, 0.2, 0.5
"""What moves less in four frames stands still."""
AGAIN_AFTER_S = 0.06
TWICE_S = 0.08
"""Nobody strikes again so soon."""


def struck_again(
    scene: Scene, sounding: Sequence[Sounding], tracks: Sequence[Track], others: Sequence[HeardNote], used: set[int]
) -> list[list[Onset]]:
    """For each sounding string the onsets at which it was struck again while it rang.

    Something was struck at an attack that nothing else explains: if no string has grown for good, the one that grew
    most for a moment.
    """
    again: list[list[Onset]] = [[] for _ in sounding]
    for place, moment in enumerate(scene.moments):
        explained = place in used or any(stray.start_s == moment.onset.time_s for stray in others)
        if explained or moment.onset.rise < SOFT_RISE:
            continue
        around_it = [track for _, track in ringing(moment, sounding, tracks)]
        level_db, share = _brought(scene, moment, around_it)
        if level_db < scene.softest_db:
            continue
        last_s = max((onsets[-1].time_s for onsets in again if onsets), default=-math.inf)
        if moment.onset.time_s - last_s < TWICE_S:
            continue
        still = _still_around(scene, moment, around_it, last_s)
        glides = max((abs(_gone(scene, track, *still)) for track in around_it), default=0.0)
        soft = moment.onset.rise < AGAIN_RISE
        if soft and glides > FAR_SEMITONES:
            continue
        grown = {
            index: _growth(scene, one, track, moment, *still)
            for index, (one, track) in enumerate(zip(sounding, tracks, strict=True))
            if _is_ringing(one, moment) and _struck_s(one, sounding) < moment.onset.time_s - AGAIN_AFTER_S
        }
        lost_db = max(0.0, min((one.soon_db - one.later_db for one in grown.values()), default=0.0))
        gains_db = {index: one.lasting_db(lost_db) for index, one in grown.items()}
        midis = {index: [track_midi(scene, tracks[index], time_s) for time_s in still] for index in gains_db}
        unhidden_db = _unhidden(gains_db, midis)
        most_db = max(unhidden_db.values(), default=0.0)
        # In driven sound strings beat against each other.
        clear = share >= OWN_SHARE and not (soft and moment.driven)
        own = clear and _stand_still_through(scene, moment, around_it)
        beside_others = scene.has_background and not own
        sure = own or (moment.onset.rise > SURE_RISE and not beside_others)
        least_db = BESIDE_OTHERS_GAIN_DB if beside_others else AGAIN_GAIN_DB
        least_db = SOFT_GAIN_DB if soft and not own else least_db
        least_db = SURE_GAIN_DB if sure and most_db < CLEAR_GAIN_DB else least_db
        struck = {
            index
            for index, gain_db in unhidden_db.items()
            if gain_db + (_faded_db(gains_db, index) if gain_db > 0.0 and not soft else 0.0) > least_db
            and (gain_db >= LEAKED_DB or most_db - gain_db <= LEAK_DB)
        }
        struck |= _granted(sounding, grown, struck, midis)
        if moment.onset.rise > SURE_RISE and not struck:
            alone = len(unhidden_db) == 1 and not beside_others
            struck = _grown_most(scene, tracks, moment, grown, unhidden_db, AGAIN_GAIN_DB if alone else STRUCK_DB)
        for index in struck:
            again[index].append(moment.onset)
    return again


def _brought(scene: Scene, moment: Moment, tracks: Sequence[Track]) -> tuple[float, float]:
    """Level of what an onset brought near the partials of strings that ring, and its share in all that it brought."""
    after_s = moment.onset.time_s + JUST_AFTER_S
    return moment.brought([track_midi(scene, track, after_s) for track in tracks], ())


def _stand_still_through(scene: Scene, moment: Moment, tracks: Sequence[Track]) -> bool:
    """Whether no string moves from just before an onset until just after it."""
    return all(abs(_gone(scene, track, *around(moment))) < STILL_SEMITONES for track in tracks)


def _struck_s(one: Sounding, sounding: Sequence[Sounding]) -> float:
    """When a string's pick was over: of a rolled grip, when its last string was struck. In a fast roll one string's
    attack may be taken for the next one's."""
    if one.asked.roll_s <= 0.0:
        return one.onset.time_s
    return max(other.onset.time_s for other in sounding if other.asked.checkpoint.step == one.asked.checkpoint.step)


def _grown_most(
    scene: Scene,
    tracks: Sequence[Track],
    moment: Moment,
    grown: Mapping[int, _Growth],
    some: Iterable[int],
    least_db: float,
) -> set[int]:
    """Which of some strings grew most by an onset, for a moment or a little later, if by so much; in unison, all that
    sound there. Strings in unison may cancel each other for a moment when they are struck."""
    most_db = {i: max(gained_db(scene, tracks[i], *around(moment))[0], grown[i].later_db) for i in some}
    index = max(most_db, key=most_db.__getitem__, default=-1)
    if index < 0 or most_db[index] <= least_db:
        return set()
    midis = {i: track_midi(scene, tracks[i], moment.onset.time_s) for i in most_db}
    return {i for i in most_db if abs(midis[i] - midis[index]) < UNISON_SEMITONES}


def _hides(lower: Sequence[float], upper: Sequence[float]) -> bool:
    """Whether a string hides behind another one before an onset or after it."""
    return bool(shadows(np.array(lower), np.array(upper)).any())


def _unhidden(gains_db: Mapping[int, float], midis: Mapping[int, Sequence[float]]) -> dict[int, float]:
    """Without the strings that hide behind another one that has grown: what grew is that one's for all one can tell,
    unless they grew more. `midis`: the pitches of each, before and after."""
    kept = {}
    for index, gain_db in gains_db.items():
        lower_db = [db for other, db in gains_db.items() if other != index and _hides(midis[other], midis[index])]
        if all(other_db <= AGAIN_GAIN_DB or gain_db > other_db + OWN_GAIN_DB for other_db in lower_db):
            kept[index] = gain_db
    return kept


def _faded_db(gains_db: Mapping[int, float], index: int) -> float:
    """What a string must have faded by an onset for all one can tell: as much as each of the others has."""
    return -min(0.0, max((db for other, db in gains_db.items() if other != index), default=0.0))


def _granted(
    sounding: Sequence[Sounding], grown: Mapping[int, _Growth], struck: Set[int], midis: Mapping[int, Sequence[float]]
) -> set[int]:
    """Strings that hide behind one that was struck again with all the others of their pick: hands repeat a grip as a
    whole. Of two strings the upper one must have grown about as much as the lower, which may have been struck alone."""
    granted = set()
    for index in grown.keys() - struck:
        step = sounding[index].asked.checkpoint.step
        beside = {other for other in grown if other != index and sounding[other].asked.checkpoint.step == step}
        lower_db = [grown[other].soon_db for other in beside if _hides(midis[other], midis[index])]
        alike = len(beside) > 1 or grown[index].soon_db > min(lower_db, default=0.0) - SHARED_LESS_DB
        if lower_db and beside <= struck and alike:
            granted.add(index)
    return granted


@dataclass(frozen=True)
class _Growth:
    """How much a ringing string grew at an onset, in dB, less what it would have faded until then."""

    soon_db: float
    later_db: float

    def lasting_db(self, lost_db: float) -> float:
        """What of it lasts, as far as that can be asked; `lost_db`: what all strings lost soon after."""
        return self.soon_db if lost_db > SILENCED_DB else min(self.soon_db, self.later_db + lost_db + LASTING_DB)


def _growth(scene: Scene, one: Sounding, track: Track, moment: Moment, before_s: float, after_s: float) -> _Growth:
    """How much a string grew between two times at which all stand still; just before and after the onset where it has
    ended by then: what it would have faded meanwhile is no growth."""
    if not _is_told(scene, track, before_s, after_s):
        before_s, after_s = around(moment)
    just_before_s, just_after_s = around(moment)
    waited_s = max(0.0, after_s - before_s - (just_after_s - just_before_s))
    faded_db = waited_s * _fading_db_s(scene, track, before_s)
    soon_db = min(gained_db(scene, track, before_s, after_s))
    later_s = max(after_s, min(after_s + LASTING_S, min(_next_s(scene, moment), one.stop_s) - JUST_BEFORE_S))
    later_db = max(gained_db(scene, track, before_s, time_s)[0] for time_s in (0.5 * (after_s + later_s), later_s))
    return _Growth(soon_db - faded_db, later_db - faded_db)


def _gone(scene: Scene, track: Track, before_s: float, after_s: float) -> float:
    """Semitones that a string has moved between two times."""
    return track_midi(scene, track, after_s) - track_midi(scene, track, before_s)


def _fading_db_s(scene: Scene, track: Track, time_s: float) -> float:
    """How fast a string fades up to a time, in dB a second; 0 where it moves, which blurs its partials."""
    earlier_s = time_s - FADING_S
    if abs(_gone(scene, track, earlier_s, time_s)) > FADING_SEMITONES:
        return 0.0
    return float(np.clip(min(gained_db(scene, track, earlier_s, time_s)) / FADING_S, -FASTEST_FADING_DB_S, 0.0))


def gained_db(scene: Scene, track: Track, before_s: float, after_s: float) -> tuple[float, float]:
    """How much a ringing string grew between two times: all its partials, and the middle one, which no single partial
    of another string can hold up. Of partials that are free at both, or one that another string has left would grow by
    itself; nothing where that cannot be told."""
    if not _is_told(scene, track, before_s, after_s):
        return 0.0, 0.0
    before, after = (scene.spectra.frame_at(time_s) - track.first for time_s in (before_s, after_s))
    then, now = (np.median(track.partials_db[at - 1 : at + 2], axis=0) for at in (before, after))
    both = np.isfinite(then) & np.isfinite(now)
    if not both.any():
        return 0.0, 0.0
    whole_db = 10.0 * np.log10(np.sum(10.0 ** (now[both] / 10.0)) / np.sum(10.0 ** (then[both] / 10.0)))
    return float(whole_db), median(now[both] - then[both])


def _is_told(scene: Scene, track: Track, before_s: float, after_s: float) -> bool:
    """Whether a string's level is known at both times."""
    before, after = (scene.spectra.frame_at(time_s) - track.first for time_s in (before_s, after_s))
    return before >= 1 and after < len(track.db) - 1 and bool(track.db[before] > UNKNOWN_DB)


def around(moment: Moment) -> tuple[float, float]:
    """Just before and just after an onset."""
    return moment.onset.time_s - JUST_BEFORE_S, moment.onset.time_s + JUST_AFTER_S


def _still_around(scene: Scene, moment: Moment, tracks: Sequence[Track], last_s: float) -> tuple[float, float]:
    """The times nearest to an onset, before and after it, at which all strings stand still: while they glide, their
    partials melt into those of the loudest. Just before and after it where they do not, and where `last_s`, when
    strings were struck again before, lies in between."""
    spectra = scene.spectra
    before_s, after_s = around(moment)
    before, after = spectra.frame_at(before_s), spectra.frame_at(after_s)
    from_s = max(moment.onset.time_s - STILL_BEFORE_S, last_s + JUST_AFTER_S)
    earlier = range(before, spectra.frame_at(from_s), -1)
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


def ringing(moment: Moment, sounding: Sequence[Sounding], tracks: Sequence[Track]) -> list[tuple[Sounding, Track]]:
    return [(one, track) for one, track in zip(sounding, tracks, strict=True) if _is_ringing(one, moment)]


def _is_ringing(one: Sounding, moment: Moment) -> bool:
    return one.onset.time_s - 0.02 <= moment.onset.time_s < one.stop_s - 0.03


def track_midi(scene: Scene, track: Track, time_s: float) -> float:
    """Where a track is at a time; before its beginning and after its end, where it is there."""
    at = scene.spectra.frame_at(time_s) - track.first
    return float(track.midis[min(max(at, 0), len(track.midis) - 1)])
