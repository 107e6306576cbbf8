"""Strings that came without an attack: faded in, or too soft for an onset."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.track import UNKNOWN_DB
from livecheck.hearing.scene import Scene, Sounding
from livecheck.hearing.sound.moment import SEARCH_CENTS, steps_within
from livecheck.hearing.sound.onset import Onset
from livecheck.hearing.sound.partials import Peaks, support
from livecheck.hearing.strokes.picks import Asked

SOON_S = 0.25
"""By then a string that was faded in is there."""
EARLIER_S = 0.05
"""In such steps it is looked for before that, where all has fallen silent."""
PRESENCE, FREE = 0.6, 0.25
GAIN_DB, NEARLY_DB = 10.0, 3.0
"""A string that comes grows by the first at least, and has nearly come within the second of its loudest."""
APART_S = 0.06
"""So shortly before an onset its own sound is in the spectrum already."""
SNAP_S = 0.07
"""An onset so near is the string's own, struck together with others."""


def emerged(scene: Scene, one: Asked, until_s: float = math.inf) -> Sounding | None:
    """The asked string, if it is there soon after its time, by `until_s` at the latest, and was not before."""
    spectra, window = scene.spectra, one.window
    stop_s = min(window.stop_s, min(until_s, scene.next_s) - APART_S)
    soon_s = min(window.expected_s + SOON_S, stop_s)
    while soon_s > window.expected_s and scene.is_silence(soon_s):
        soon_s -= EARLIER_S  # silenced by then, it was there before
    if soon_s <= window.start_s:
        return None
    rows = spectra.rows(spectra.frame_at(soon_s - 0.06), spectra.frame_at(min(soon_s + 0.04, stop_s)) + 1)
    pitches = one.midi + steps_within(SEARCH_CENTS)
    found = support(Peaks.of(rows.mean(axis=0), spectra.bin_hz), pitches, one.others)
    best = int(np.argmax(found.presence - 1e-3 * np.abs(pitches - one.midi)))
    if found.presence[best] < PRESENCE or found.free[best] < FREE:
        return None
    midi = float(pitches[best])
    first, soon, last = (spectra.frame_at(time_s) for time_s in (window.start_s, soon_s, min(soon_s + SOON_S, stop_s)))
    levels = [scene.level_db(float(t), midi, one.others) for t in spectra.times_s[first : last + 1]]
    known = np.array([UNKNOWN_DB if level is None else level for level in levels])
    # What was there before, loud as it may have been, counts for nothing: only how it has come to be there soon.
    top = soon - first + int(np.argmax(known[soon - first :]))
    rise = known[: top + 1] - known[top]
    if not (rise[: soon - first + 1] <= -GAIN_DB).any() or scene.is_silence(float(spectra.times_s[first + top])):
        return None
    onset = Onset(_begin_s(spectra.times_s[first : first + top + 1], rise), 0.0)
    near = [moment.onset for moment in scene.moments if abs(moment.onset.time_s - onset.time_s) < SNAP_S]
    if not near and not one.checkpoint.swell and any(abs(o.time_s - onset.time_s) < SNAP_S for o in scene.background):
        return None
    with_others = min(near, key=lambda other: abs(other.time_s - onset.time_s), default=onset)
    return Sounding(one, with_others, midi, one.note.string)


def _begin_s(times_s: NDArray[np.float64], rise_db: NDArray[np.float64]) -> float:
    """When a string began to grow to its top, at 0 dB and last: where the line through two points of its rise meets
    nothing."""
    low = int(np.flatnonzero(rise_db <= -GAIN_DB)[-1])
    high = low + int(np.flatnonzero(rise_db[low:] >= -NEARLY_DB)[0])
    shares = 10.0 ** (rise_db[[low, high]] / 20.0)
    begin_s = times_s[low] - (times_s[high] - times_s[low]) * shares[0] / (shares[1] - shares[0])
    return max(float(begin_s), float(times_s[0]))
