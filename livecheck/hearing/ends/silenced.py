"""When a string that should ring on was silenced: a steep fall of its level from which nothing comes back."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.quest import shared
from livecheck.hearing.curves.track import UNKNOWN_DB, Track
from livecheck.hearing.median import median
from livecheck.hearing.scene import STRAY_KNOWN_S, Scene, Sounding
from livecheck.hearing.sound.partials import shadows

BLEED_S = 0.055
"""From so shortly before the next pick on, a frame and its neighbours hear that pick."""
DROP_DB, HALF_DROP_DB = 15.0, 7.0
MIDDLE_DROP_DB, SOUNDING_SUPPORT, SILENT_SUPPORT = 14.0, 0.7, 0.5
"""Where another string's partial holds the level up: how far the middle partial falls, and how little of the string
may be left."""
DROP_BEFORE, DROP_AFTER = 3, 6
"""Frames before and after the moment of a fall between which it must happen: about a tenth of a second."""
MOST = 0.5
REFERENCE_S = 0.2
"""How long before a stray is struck, or a string should end, the level of what rings is taken: nearer to it the bar may
be moving already."""


def silenced_s(scene: Scene, one: Sounding, track: Track, tracks: Sequence[Track]) -> float | None:
    """When the string was silenced before its end, if it was: a steep fall from which nothing comes back."""
    clear = int(np.sum(scene.spectra.times_s[track.first : track.stop] <= one.stop_s - BLEED_S))
    if clear - DROP_BEFORE - DROP_AFTER < 3:
        return None
    hidden, behind = _hidden_before_it_is_clear(track, tracks)[:clear], _behind_an_attack(scene, track)[:clear]
    partials_db = track.partials_db[:clear]
    own_db = _its_own_db(scene, track, track.db[:clear], hidden)
    fallen = _fall(own_db, behind, partials_db, DROP_DB, _same_partials_fall)
    if fallen is None:
        middle_db = _its_own_db(scene, track, track.middle_db[:clear], hidden)
        fallen = _fall(middle_db, behind, partials_db, MIDDLE_DROP_DB, _most_of_it_falls)
        if fallen is not None and not _fades(track.support[:clear], fallen):
            return None
    return None if fallen is None else float(scene.spectra.times_s[track.first + fallen])


def _its_own_db(scene: Scene, track: Track, db: NDArray[np.float64], hidden: NDArray[np.bool_]) -> NDArray[np.float64]:
    """A string's level without what others add: unknown where they hide it; while strays ring, no more than it had
    before them."""
    own = np.where(hidden, UNKNOWN_DB, db)
    for stray in scene.strays:
        earlier, first, stop = (
            max(0, scene.spectra.frame_at(time_s) - track.first)
            for time_s in (stray.start_s - REFERENCE_S, stray.start_s - BLEED_S, stray.start_s + STRAY_KNOWN_S)
        )
        before = own[earlier:first]
        if len(before) and before.max() > UNKNOWN_DB + 1.0:
            own[first:stop] = np.minimum(own[first:stop], before.max())
    return own


def _hidden_before_it_is_clear(track: Track, tracks: Sequence[Track]) -> NDArray[np.bool_]:
    """On which frames a string hides behind another one, if it comes out of there and is clearly heard then; shape
    (n,)."""
    hidden = np.zeros(len(track.midis), dtype=bool)
    for other in (other for other in tracks if other is not track):
        here, there = shared(track, other)
        if here.start == here.stop:
            continue
        hidden[here] |= shadows(other.midis[there], track.midis[here])
    seen = np.flatnonzero(~hidden & (track.support > SOUNDING_SUPPORT))
    hidden[seen[-1] if len(seen) else 0 :] = False
    return hidden


def _behind_an_attack(scene: Scene, track: Track) -> NDArray[np.bool_]:
    """On which frames what is struck covers a string with its noise, so that it cannot be made out; shape (n,)."""
    times_s = scene.spectra.times_s[track.first : track.stop]
    struck_s = np.array([moment.onset.time_s for moment in scene.moments])
    near = (np.abs(times_s[:, None] - struck_s) < BLEED_S).any(axis=1)
    return np.asarray(near & (track.support < SILENT_SUPPORT))


def _fades(support: NDArray[np.float64], frame: int) -> bool:
    """Whether most of a string's partials were there before a frame, and few are after it."""
    before, after = support[max(0, frame - DROP_AFTER) : frame], support[frame + DROP_AFTER :]
    there = len(before) > 0 and median(before) > SOUNDING_SUPPORT
    return there and len(after) > 0 and median(after) < SILENT_SUPPORT


def _fall(
    db: NDArray[np.float64],
    behind: NDArray[np.bool_],
    partials_db: NDArray[np.float64],
    least_db: float,
    partials_fall: Callable[[NDArray[np.float64], int], bool],
) -> int | None:
    """The frame at which a level falls steeply, by so much at least, never to come back; None if it does not.
    `behind`: where an attack covers it, and neither shows that it fell nor that it came back; `partials_db`: of what it
    is the level; `partials_fall`: whether these fall from a frame on."""
    db = np.where(behind, UNKNOWN_DB, db)
    before, after = np.append(db[:1], db[:-1]), np.append(db[1:], db[-1:])
    low, high = np.minimum(before, after), np.maximum(before, after)
    middle = np.maximum(low, np.minimum(db, high))
    smooth = np.where(db > UNKNOWN_DB + 1.0, middle, -np.inf)
    later = np.maximum.accumulate(smooth[::-1])[::-1][DROP_BEFORE + DROP_AFTER :]
    earlier = smooth[: len(later)]
    known = np.isfinite(later) & np.isfinite(earlier) & ~behind[DROP_BEFORE + DROP_AFTER :]
    found = np.flatnonzero(np.subtract(earlier, later, out=np.zeros(len(later)), where=known) > least_db)
    for frame in found.tolist():
        if partials_fall(partials_db, frame):
            return int(frame + np.flatnonzero(smooth[frame:] < smooth[frame] - HALF_DROP_DB)[0])
    return None


def _same_partials_fall(partials_db: NDArray[np.float64], frame: int) -> bool:
    """Whether most of the partials that are free both before and after a fall fell too, if any are: a string also
    seems to fall where another one that moves comes upon its loudest. One of them something else may hold up."""
    after = frame + DROP_BEFORE + DROP_AFTER
    both = np.isfinite(partials_db[frame]) & np.isfinite(partials_db[after])
    return not both.any() or median((partials_db[after] - partials_db[frame])[both]) < -HALF_DROP_DB


def _most_of_it_falls(partials_db: NDArray[np.float64], frame: int) -> bool:
    """Whether most of what stands above the lowest that is left falls, in dB of all partials that are free on both
    sides: those of a high string die away by themselves within a tenth of a second, but little of it is in them, and
    the first goes on. Some of it must fall far: where the only partial that is left goes on, it is itself the lowest.
    Right after the stroke, when they fall most, nothing is told."""
    span = DROP_BEFORE + DROP_AFTER
    if frame < span:
        return False
    after = frame + span
    both = np.isfinite(partials_db[frame]) & np.isfinite(partials_db[after])
    if not both.any():
        return True
    before_db, after_db = partials_db[frame][both], partials_db[after][both]
    fallen_db, standing_db = np.maximum(before_db - after_db, 0.0), np.maximum(before_db - after_db.min(), 0.0)
    return bool(fallen_db.max() > HALF_DROP_DB and fallen_db.sum() >= MOST * standing_db.sum())
