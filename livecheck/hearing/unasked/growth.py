"""How much ringing strings grew by an onset, and how loud they are since.

Right before and right after the onset, each string looked at as if it stood still, by the partials that no other string
has at either time. Levels in dB, pitches as MIDI numbers, times in seconds from the start of the take.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.track import REFINE_PARTIALS, UNKNOWN_DB, Track
from livecheck.hearing.median import median
from livecheck.hearing.scene import WINDOW, Scene, Sounding
from livecheck.hearing.sound.moment import AFTER_S, BEFORE_S, Moment
from livecheck.hearing.sound.partials import UNISON_SEMITONES, free_partials, partials_hz, shadows
from livecheck.hearing.sound.spectrum import loudest_near
from livecheck.hearing.unasked.straightened import WAY_S, straightened

STRUCK_AFTER_S = 0.06
"""So long after a string was struck it is as loud as that made it."""
FADED_IN_S = 0.6
"""By then one that is to be faded in is as loud as it comes, be it struck or not."""
LEAST_OF_ALL = 0.05
"""Of all that is new a string that was struck brings so much at least where others have no partials; less is noise."""
JUST_BEFORE_S, JUST_AFTER_S = 0.055, 0.05


@dataclass(frozen=True)
class Growth:
    """What an onset did to a ringing string."""

    gain_db: float
    """The middle one of its partials; -inf where others leave it none."""
    back_db: float
    """How loud it is after the onset beside what it was when it was struck; 0 where that cannot be told."""
    behind: tuple[int, ...]
    """The strings, by their places, behind which it hides with all its partials; then those are what was looked at."""
    shared_db: float = -np.inf
    """Where others leave it no partial, as low strings do and several together: how much the middle one of all grew."""
    most_back_db: float = 0.0
    """As `back_db`, by all partials that it had to itself when it was struck, whatever others add to them now."""
    share: float = 0.0
    """Of all that the onset brought where others have no partials, 0 to 1, what it brought near those of this one; 0
    where that is little of all that is new, and for a low one, near some of whose lies whatever is new."""


def growth(scene: Scene, moment: Moment, index: int, ringing: Sequence[tuple[Sounding, Track]]) -> Growth:
    """What an onset did to one of the strings that ring; strings in unison are one sound, and grow as one."""
    one, track = ringing[index]
    onset_s = moment.onset.time_s
    way = track_midis(scene, track, onset_s + WAY_S)
    midi = track_midi(scene, track, onset_s + AFTER_S)
    look = straightened(scene.recording, moment.onset, onset_s + WAY_S, way - midi, WINDOW)
    beside = {place: trail for place, (_, trail) in enumerate(ringing) if place != index}
    seen = {place: _seen_from(scene, track, trail, onset_s, midi) for place, trail in beside.items()}
    others = {place: both for place, both in seen.items() if max(abs(p - midi) for p in both) > UNISON_SEMITONES}
    apart = [pitch for both in others.values() for pitch in both]
    free = _free(look, midi, apart)
    behind: tuple[int, ...] = ()
    if not free.any():
        behind = tuple(place for place, both in others.items() if shadows(np.array(both), midi).any())
        apart = [pitch for place, both in others.items() if place not in behind for pitch in both]
        free = _free(look, midi, apart)
    share = 0.0 if look.is_low(midi) else _share(look, midi, apart)
    before_db, after_db = (_partials_db(row, midi, look.peaks.bin_hz) for row in (look.before, look.after))
    if not free.any():
        every = _free(look, midi, ())
        shared_db = median((after_db - before_db)[every]) if every.any() else -np.inf
        return Growth(-np.inf, 0.0, behind, shared_db, share=share)
    first_db = _first_db(scene, one, track, onset_s)
    known = np.isfinite(first_db)
    both = free & known
    back_db, most_back_db = (_sum_db(after_db[of]) - _sum_db(first_db[of]) if of.any() else 0.0 for of in (both, known))
    if behind and both.any():
        # Of partials that two strings share one may be louder than either has it, but hardly all of them.
        back_db = min(back_db, float(np.mean((after_db - first_db)[both])))
    return Growth(median((after_db - before_db)[free]), back_db, behind, most_back_db=most_back_db, share=share)


def _share(look: Moment, midi: float, others: Sequence[float]) -> float:
    where_free, of_all = look.brought_alone(midi, others)
    return where_free if of_all >= LEAST_OF_ALL else 0.0


def is_coming(one: Sounding, time_s: float) -> bool:
    """Whether a string is still being faded in at a time."""
    return one.asked.checkpoint.swell and time_s < one.onset.time_s + FADED_IN_S


def _seen_from(scene: Scene, track: Track, other: Track, onset_s: float, midi: float) -> list[float]:
    """Where another string is before and after an onset if a string that moves is taken to stand still at a pitch."""
    times_s = (onset_s - BEFORE_S, onset_s + AFTER_S)
    return [midi + track_midi(scene, other, time_s) - track_midi(scene, track, time_s) for time_s in times_s]


def _free(look: Moment, midi: float, others: Sequence[float]) -> NDArray[np.bool_]:
    return free_partials(np.array([midi]), others, look.peaks.bin_hz)[0, :REFINE_PARTIALS]


def _partials_db(row: NDArray[np.float32], midi: float, bin_hz: float) -> NDArray[np.float64]:
    """Level of each partial of a pitch in a spectrum, shape (REFINE_PARTIALS,)."""
    level = loudest_near(row, partials_hz(np.array([midi]))[0, :REFINE_PARTIALS], bin_hz)
    return np.asarray(20.0 * np.log10(np.maximum(level, 1e-7)), dtype=np.float64)


def _first_db(scene: Scene, one: Sounding, track: Track, before_s: float) -> NDArray[np.float64]:
    """Level of each partial of a string when it was struck, before a time, shape (REFINE_PARTIALS,); NaN where another
    string had one there."""
    struck, faded_in, before = (
        scene.spectra.frame_at(time_s) - track.first
        for time_s in (one.onset.time_s + STRUCK_AFTER_S, one.onset.time_s + FADED_IN_S, before_s - JUST_BEFORE_S)
    )
    last = len(track.db) - 2
    at = min(max(struck, 1), last)
    if one.asked.checkpoint.swell:
        at += int(np.argmax(track.db[at : max(at, min(faded_in, before, last)) + 1]))
    return _around_db(track, at)


def _around_db(track: Track, at: int) -> NDArray[np.float64]:
    """Level of each partial around a frame of a track, the middle of three, shape (REFINE_PARTIALS,); NaN where one of
    them is."""
    before, here, after = track.partials_db.take((at - 1, at, at + 1), axis=0, mode="clip")
    return np.asarray(np.maximum(np.minimum(before, here), np.minimum(np.maximum(before, here), after)))


def _sum_db(levels_db: NDArray[np.float64]) -> float:
    return float(10.0 * np.log10(np.sum(10.0 ** (levels_db / 10.0))))


def gained_db(scene: Scene, track: Track, moment: Moment) -> float | None:
    """How much a ringing string's track grew by an onset, wherever it went: of partials that are free before and after,
    or one that another string has left would grow by itself; None where that cannot be told."""
    times_s = (moment.onset.time_s - JUST_BEFORE_S, moment.onset.time_s + JUST_AFTER_S)
    before, after = (scene.spectra.frame_at(time_s) - track.first for time_s in times_s)
    if before < 1 or after >= len(track.db) - 1 or track.db[before] <= UNKNOWN_DB:
        return None
    then, now = _around_db(track, before), _around_db(track, after)
    both = np.isfinite(then) & np.isfinite(now)
    return _sum_db(now[both]) - _sum_db(then[both]) if both.any() else None


def track_midi(scene: Scene, track: Track, time_s: float) -> float:
    """Where a track is at a time; before its beginning and after its end, where it is there."""
    at = scene.spectra.frame_at(time_s) - track.first
    return float(track.midis[min(max(at, 0), len(track.midis) - 1)])


def track_midis(scene: Scene, track: Track, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """The same at some times, shape (n,)."""
    return np.array([track_midi(scene, track, time_s) for time_s in times_s.tolist()])
