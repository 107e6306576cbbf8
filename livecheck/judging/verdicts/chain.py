"""A string's notes from an asked pick to the next: one curve, though it may have been struck again.

Seconds from the start of the take, MIDI numbers with decimals as it sounded, on a grid of `GRID_S`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.heard import GRID_S, HeardNote
from livecheck.hearing.median import median
from livecheck.judging.verdicts.vibrato import vibrato_of

Curve = tuple[NDArray[np.float64], NDArray[np.float64]]


class Chain:
    def __init__(self, notes: tuple[HeardNote, ...]) -> None:
        self.start_s = notes[0].start_s
        self.end_s = notes[-1].end_s
        self.heard_until_s = notes[-1].heard_until_s
        parts = [note.curve(note.start_s, note.end_s) for note in notes]
        self.times_s = np.concatenate([times for times, _ in parts])
        self.midis = np.concatenate([midis for _, midis in parts])

    def curve(self, start_s: float, stop_s: float) -> Curve:
        """Times and pitches between two times, both included; empty where nothing was heard."""
        span = self.span(start_s, stop_s)
        return self.times_s[span], self.midis[span]

    def span(self, start_s: float, stop_s: float) -> slice:
        """Where on the curve two times lie, both included."""
        return slice(self.times_s.searchsorted(start_s), self.times_s.searchsorted(stop_s + 1e-9))

    def median_midi(self, start_s: float, stop_s: float) -> float | None:
        """The middle pitch between two times; None where nothing was heard."""
        _, midis = self.curve(start_s, stop_s)
        return median(midis) if len(midis) else None

    def steady(self, knots: Sequence[tuple[float, float]]) -> bool:
        """Take the vibrato off, given the levels and glides that were found so far as (seconds, midi); whether there
        was any."""
        times, midis = zip(*knots, strict=True)
        rest = 100.0 * (self.midis - np.interp(self.times_s, times, midis))
        vibrato = vibrato_of(rest, GRID_S)
        self.midis = self.midis - vibrato / 100.0
        return bool(vibrato.any())
