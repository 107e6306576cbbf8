"""Strings that ring on after they should have fallen silent, at an onset: they are not struck by it, and may move."""

from __future__ import annotations

from collections.abc import Sequence, Set

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.track import Track
from livecheck.hearing.scene import Scene, Sounding
from livecheck.hearing.sound.moment import Moment
from livecheck.hearing.sound.partials import SHADOW_SEMITONES
from livecheck.hearing.strokes.picks import ACCEPT, MASKED_FREE
from livecheck.hearing.unasked.again import AGAIN_AFTER_S

LINGER_S = 1.2
BETWEEN = 9
"""Pitches looked at between where a string was and where the bar takes it."""
RANG_ON_S = 0.07
"""So long after its end a string that was silenced in time is silent."""
PARTED_S = 0.1
"""An onset so long after a string's end has nothing to do with it."""
CARRIED_BEFORE_S, CARRIED_AFTER_S, CARRIED_GAIN_DB = 0.2, 0.08, 4.0
"""A string that was ringing and is no louder after an onset than so much more has not been struck."""


def lingering_at(scene: Scene, moment: Moment, sounding: Sequence[Sounding], tracks: Sequence[Track]) -> set[int]:
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


def silenced_by(scene: Scene, moment: Moment, lingering: Set[int], present: Sequence[float]) -> set[int]:
    """Of strings that rang until a pick those that were silenced by it: nothing is left of them, wherever the bar may
    have them by then, but what a string has that would hide behind them. `present`: the pitches of what sounds
    anyway."""
    before_s, stance = np.array([moment.onset.time_s - 0.06]), scene.step_at(moment.onset.time_s, 0.1).stance
    ways = {
        string: np.linspace(
            float(scene.carried_midi(string, before_s)[0]), stance.midi(string, scene.copedent) + scene.offset, BETWEEN
        ).tolist()
        for string in lingering
    }

    def is_left(string: int, midi: float) -> bool:
        others = [*present, *(way[-1] for other, way in ways.items() if other != string)]
        own = moment.evidence(midi, [*others, *(midi + SHADOW_SEMITONES).tolist()])
        return own.free < MASKED_FREE or own.presence >= ACCEPT

    return {string for string, way in ways.items() if not any(is_left(string, midi) for midi in way)}


def _sounds(
    scene: Scene, one: Sounding, time_s: float, pitches: NDArray[np.float64], sounding: Sequence[Sounding]
) -> bool:
    return scene.is_there(time_s, pitches, scene.others_at(one, time_s, sounding))


def _rang_on(scene: Scene, one: Sounding, before_s: float, sounding: Sequence[Sounding]) -> bool:
    """Whether a string sounded on after its end, though it cannot be made out now because the bar is on its way."""
    time_s = one.stop_s + RANG_ON_S
    if time_s >= before_s:
        return False
    near = scene.carried_midi(one.string, time_s + np.array([-RANG_ON_S, 0.0, 2.0 * RANG_ON_S]))
    pitches = np.linspace(near.min(), near.max(), BETWEEN)
    return _sounds(scene, one, time_s, pitches, sounding)


def _carried_on(scene: Scene, moment: Moment, one: Sounding, track: Track, sounding: Sequence[Sounding]) -> bool:
    """Whether a string that the bar takes along just when others are struck is no louder than it was before."""
    earlier_s = max(one.stop_s - CARRIED_BEFORE_S, one.onset.time_s + AGAIN_AFTER_S)
    later_s = moment.onset.time_s + CARRIED_AFTER_S
    at = scene.spectra.frame_at(earlier_s) - track.first
    parted = abs(one.stop_s - moment.onset.time_s) > PARTED_S
    if parted or earlier_s > one.stop_s - AGAIN_AFTER_S or not 0 <= at < len(track.midis):
        return False
    later = float(scene.carried_midi(one.string, np.array([later_s]))[0])
    before_db = scene.level_db(earlier_s, float(track.midis[at]), scene.others_at(one, earlier_s, sounding))
    after_db = scene.level_db(later_s, later, scene.others_at(one, later_s, sounding))
    return before_db is not None and after_db is not None and after_db < before_db + CARRIED_GAIN_DB
