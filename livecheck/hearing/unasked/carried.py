"""Strings that nobody asked for while they ring on: the bar takes them along."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.quest import Quest, shared
from livecheck.hearing.curves.track import Track
from livecheck.hearing.curves.tracks import scaled, track_all
from livecheck.hearing.heard import CLEAR_SUPPORT, HeardNote
from livecheck.hearing.scene import SLIP_SEMITONES, Scene
from livecheck.hearing.sound.moment import AFTER_S, Moment

STRAY_S = 0.6
"""How long a stray is thought to ring."""
FADED_DB = 15.0
"""Of a stray that has lost so much nothing covers what else sounds there."""
ASTRAY_SEMITONES = 0.5 * SLIP_SEMITONES
"""A string nearer to where bar and pedals have it has not left it."""


def carried_along(scene: Scene, along: Sequence[HeardNote]) -> dict[int, Track]:
    """The strings that strays of a moment ago may be, with their tracks: the bar takes them along, and what that
    changes may be an onset of its own."""
    carried: dict[int, Track] = {}
    for stray in along:
        carried |= dict.fromkeys(_strings(scene, stray), followed(scene, stray))
    return carried


def recent(moment: Moment, found: Sequence[HeardNote]) -> list[HeardNote]:
    """The strays that were struck a moment ago."""
    return [stray for stray in found if moment.onset.time_s - STRAY_S < stray.start_s < moment.onset.time_s]


def courses(scene: Scene, some: Sequence[HeardNote], times_s: NDArray[np.float64]) -> list[float]:
    """Where bar and pedals have some strays at some times."""
    return [midi for stray in some for midi in _course(scene, stray, times_s).tolist()]


def _course(scene: Scene, stray: HeardNote, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where bar and pedals have a stray's string at some times; same shape."""
    string = stray.string or min(_strings(scene, stray))
    begun = scene.carried_midi(string, np.array([stray.start_s + AFTER_S]))
    return np.asarray(scene.carried_midi(string, times_s) + (stray.midis[0] - begun))


def followed(scene: Scene, stray: HeardNote) -> Track:
    """A stray's track, by itself, from near where bar and pedals have its string."""
    first, stop = scene.spectra.span(stray.start_s, stray.start_s + STRAY_S)
    guess = _course(scene, stray, scene.spectra.times_s[first:stop])
    quest = Quest(first, stop, (float(guess.min()), float(guess.max())), guess)
    return track_all(scene.spectra, scaled(scene.spectra, first, stop), [quest])[0]


def covered(track: Track, courses: Sequence[NDArray[np.float64]], strays: Sequence[Track]) -> NDArray[np.bool_]:
    """On which frames of a track it has gone to where some stray is, until that has faded or is lost; shape (n,).

    `courses`: where bar and pedals have its string, by all that tells. On them it may be joined by a stray, or by the
    track of one that has ended, but was not drawn to it; one of them may have been drawn there itself.
    """
    astray = np.logical_or.reduce([np.abs(track.midis - course) > ASTRAY_SEMITONES for course in courses])
    out = np.zeros(len(track.midis), dtype=bool)
    for stray in strays:
        clear = stray.support >= CLEAR_SUPPORT
        faded = stray.db < np.maximum.accumulate(stray.db) - FADED_DB
        over = np.flatnonzero(np.logical_or.accumulate(clear) & (faded | ~clear))
        rings = np.arange(len(stray.midis)) < (over[0] if len(over) else len(stray.midis))
        here, there = shared(track, stray)
        out[here] |= rings[there] & (np.abs(track.midis[here] - stray.midis[there]) < SLIP_SEMITONES)
    return np.asarray(out & astray)


def _strings(scene: Scene, stray: HeardNote) -> set[int]:
    """Which a stray may be, by its pitch."""
    at_s = np.array([stray.start_s + AFTER_S])
    off = {s: abs(float(scene.carried_midi(s, at_s)[0]) - float(stray.midis[0])) for s in scene.strings}
    return {s for s in off if off[s] < min(off.values()) + SLIP_SEMITONES or s == stray.string}
