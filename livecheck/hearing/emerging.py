"""Strings that came without an attack: faded in, or too soft for an onset."""

from __future__ import annotations

import math

import numpy as np

from livecheck.hearing.onset import Onset
from livecheck.hearing.partials import Peaks, support
from livecheck.hearing.picks import Asked
from livecheck.hearing.scene import Scene, Sounding
from livecheck.hearing.tracks import UNKNOWN_DB

SOON_S = 0.25
"""By then a string that was faded in is there."""
PRESENCE, FREE = 0.6, 0.25
GAIN_DB = 10.0
APART_S = 0.06
"""So shortly before an onset its own sound is in the spectrum already."""
SNAP_S = 0.07
"""An onset so near is the string's own, struck together with others."""


def emerged(scene: Scene, one: Asked, until_s: float = math.inf) -> Sounding | None:
    """The asked string, if it is there soon after its time, by `until_s` at the latest, and was not before."""
    spectra, window = scene.spectra, one.window
    stop_s = min(window.stop_s, until_s - APART_S)
    soon_s = min(window.expected_s + SOON_S, stop_s)
    if soon_s <= window.start_s:
        return None
    rows = spectra.rows(spectra.frame_at(soon_s - 0.06), spectra.frame_at(soon_s + 0.04) + 1)
    found = support(Peaks.of(rows.mean(axis=0), spectra.bin_hz), np.array([one.midi]), one.others)
    if found.presence[0] < PRESENCE or found.free[0] < FREE:
        return None
    first, last = spectra.frame_at(window.start_s), spectra.frame_at(stop_s)
    levels = [scene.level_db(float(t), one.midi, one.others) for t in spectra.times_s[first : last + 1]]
    known = np.array([UNKNOWN_DB if level is None else level for level in levels])
    lowest = int(np.argmin(known[: max(1, spectra.frame_at(window.expected_s) - first)]))
    rising = known[lowest:]
    top = float(rising.max())
    if top - float(known[lowest]) < GAIN_DB:
        return None
    quiet = np.flatnonzero(rising[: int(np.argmax(rising)) + 1] <= top - GAIN_DB)
    begin = lowest + int(quiet[-1]) + 1
    onset = Onset(float(spectra.times_s[first + begin]), 0.0)
    near = [moment.onset for moment in scene.moments if abs(moment.onset.time_s - onset.time_s) < SNAP_S]
    with_others = min(near, key=lambda other: abs(other.time_s - onset.time_s), default=onset)
    return Sounding(one, with_others, one.midi, one.note.string)
