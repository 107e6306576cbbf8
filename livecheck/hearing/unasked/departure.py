"""How a string may have moved on while its track leapt from it to another one, which moves with the same bar.

Pitches in semitones, times in seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.track import Track
from livecheck.hearing.scene import SLIP_SEMITONES, WINDOW, Scene
from livecheck.hearing.sound.moment import AFTER_S, BEFORE_S, Evidence, Moment
from livecheck.hearing.unasked.growth import track_midi, track_midis
from livecheck.hearing.unasked.straightened import WAY_S, straightened

LEAP_S = 0.05
"""A track that leaps to what another string sounds does so sooner than a hand goes so far."""
BEGINS_S = np.linspace(-0.08, 0.0, 9)
"""When a leap may begin, from an onset on: a frame hears nearly as far to both sides."""
CLEAN_S = float(BEGINS_S[0])
"""Before that no frame hears anything of what is struck."""
MOVING_S = 0.06
"""So long before and after a leap one can see how the string moves."""
STAYED_PRESENCE, STAYED_FREE, STAYED_CENTS, STAYED_DB = 0.35, 0.2, 25.0, (-6.0, 3.0)
"""Where a string that did not go elsewhere is heard on, hardly louder or softer than before: what goes leaves less
behind, what is struck there is louder."""


@dataclass(frozen=True)
class Way:
    """Where a string was around an onset."""

    midis: NDArray[np.float64]
    """Its pitches at `WAY_S`, same shape."""

    def at(self, after_s: float) -> float:
        return float(np.interp(after_s, WAY_S, self.midis))


@dataclass(frozen=True)
class Departure:
    """How a string may have moved on without its track."""

    leap: float
    """How far the track leapt."""
    way: Way


def departures(scene: Scene, track: Track, moment: Moment) -> list[Departure]:
    """The ways in which a string may have gone on where its track leapt at an onset: as it moved before and after that
    on the average, as before, as after, or not at all. None where the track goes no faster than before or after."""
    onset_s = moment.onset.time_s
    far = track_midis(scene, track, onset_s + BEGINS_S + LEAP_S) - track_midis(scene, track, onset_s + BEGINS_S)
    begin_s = float(BEGINS_S[np.argmax(np.abs(far))])
    end_s = begin_s + LEAP_S
    times_s = np.array([CLEAN_S - MOVING_S, CLEAN_S, begin_s, end_s, end_s + MOVING_S])
    earlier, before, begin, end, after = track_midis(scene, track, onset_s + times_s).tolist()
    speeds = (before - earlier) / MOVING_S, (after - end) / MOVING_S
    if abs(end - begin - LEAP_S * min(max((end - begin) / LEAP_S, min(speeds)), max(speeds))) < SLIP_SEMITONES:
        return []
    midis = track_midis(scene, track, onset_s + WAY_S)
    found = []
    for speed in (0.5 * sum(speeds), *speeds, 0.0):
        came = before + speed * (end_s - CLEAN_S)
        since = np.where(end_s > WAY_S, np.interp(WAY_S, [CLEAN_S, end_s], [before, came]), midis - (end - came))
        found.append(Departure(end - came, Way(np.where(CLEAN_S >= WAY_S, midis, since))))
    return found


def heard_on(scene: Scene, left: Sequence[Departure], moment: Moment, beside: Sequence[Track]) -> Departure | None:
    """Of how a string may have moved on that by which it is heard clearest; None where it is by none. `beside`: the
    tracks of the other strings, each of which may have left its own."""
    heard = [(_evidence(scene, one.way, moment, beside), one) for one in left]
    stayed = [
        (there.presence, replace(one, way=Way(one.way.midis + there.midi - one.way.at(AFTER_S))))
        for there, one in heard
        if there.free > STAYED_FREE and there.presence > STAYED_PRESENCE and STAYED_DB[0] < there.gain_db < STAYED_DB[1]
    ]
    return max(stayed, key=lambda clear: clear[0])[1] if stayed else None


def _evidence(scene: Scene, way: Way, moment: Moment, beside: Sequence[Track]) -> Evidence:
    """What speaks after an onset for a string that has gone some way, looked at as if it stood still."""
    onset_s = moment.onset.time_s
    here, before = way.at(AFTER_S), way.at(-BEFORE_S)
    look = straightened(scene.recording, moment.onset, onset_s + WAY_S, way.midis - here, WINDOW)
    others = []
    for track in beside:
        others.append(here - before + track_midi(scene, track, onset_s - BEFORE_S))
        others.append(track_midi(scene, track, onset_s + AFTER_S))
        others += [one.way.at(AFTER_S) for one in departures(scene, track, moment)[:1]]
    return replace(look, driven=moment.driven).evidence(here, others, STAYED_CENTS)
