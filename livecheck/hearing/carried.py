"""Strings that nobody asked for while they ring on: the bar takes them along."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.moment import AFTER_S, Moment
from livecheck.hearing.scene import SLIP_SEMITONES, Scene
from livecheck.hearing.tracks import Quest, Track, scaled, track_all

STRAY_S = 0.6
"""How long a stray is thought to ring."""


def carried_along(scene: Scene, moment: Moment, found: Sequence[HeardNote]) -> dict[int, Track]:
    """Strings that were struck a moment ago, though nobody asked for it, with their tracks: the bar takes them along,
    and what that changes may be an onset of its own."""
    carried: dict[int, Track] = {}
    for stray in found:
        if moment.onset.time_s - STRAY_S < stray.start_s < moment.onset.time_s:
            at_s = np.array([stray.start_s + AFTER_S])
            off = {s: abs(float(scene.carried_midi(s, at_s)[0]) - float(stray.midis[0])) for s in scene.strings}
            own = {s for s in off if off[s] < min(off.values()) + SLIP_SEMITONES or s == stray.string}
            carried |= dict.fromkeys(own, _followed(scene, stray, stray.string or min(own)))
    return carried


def _followed(scene: Scene, stray: HeardNote, string: int) -> Track:
    """A stray's track, from near where bar and pedals have its string."""
    first, stop = scene.spectra.span(stray.start_s + AFTER_S, stray.start_s + STRAY_S)
    guess = scene.carried_midi(string, scene.spectra.times_s[first:stop])
    guess += float(stray.midis[0]) - guess[0]
    quest = Quest(first, stop, (float(guess.min()), float(guess.max())), guess)
    return track_all(scene.spectra, scaled(scene.spectra, first, stop), [quest])[0]
