"""When a string that has nearly died away is lost in what others play."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.track import Track
from livecheck.hearing.median import median
from livecheck.hearing.scene import SOFTEST_DB, Scene

BEFORE_S, AFTER_S = (-0.06, -0.015), (0.03, 0.1)
"""When around an onset of others a string is heard without it, and with it."""
GROWN_DB = 6.0
"""A string that nobody strikes grows by no more, but for the beating of its two ways to swing."""


def drowned_s(scene: Scene, track: Track, start_s: float, stop_s: float) -> float | None:
    """From when on a string that was struck at one time and sounds until another is lost in what others play, if it is:
    where it was much softer than what these bring and grows as they do. Nobody struck it, so that is theirs, and what
    is heard from there on is where they are."""
    times_s = scene.spectra.times_s[track.first : track.stop]
    for onset in scene.background:
        if not start_s < onset.time_s < stop_s:
            continue
        before, after = (
            _powers(track, (times_s >= onset.time_s + low) & (times_s < onset.time_s + high))
            for low, high in (BEFORE_S, AFTER_S)
        )
        own = np.where(np.isnan(before), after, np.minimum(before, after))
        if _db(before) < scene.background_db - SOFTEST_DB and _db(after) > _db(own) + GROWN_DB:
            return onset.time_s
    return None


def _powers(track: Track, frames: NDArray[np.bool_]) -> NDArray[np.float64]:
    """The middle power of each of a string's partials on some frames; NaN where it is never free."""
    rows = 10.0 ** (track.partials_db[frames] / 10.0)
    known = [column[np.isfinite(column)] for column in rows.T]
    return np.array([median(column) if len(column) else np.nan for column in known])


def _db(powers: NDArray[np.float64]) -> float:
    return float(10.0 * np.log10(max(float(np.nansum(powers)), 1e-14)))
