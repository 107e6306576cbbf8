"""What was heard: notes with pitch curves. Audio and MIDI both end as these, so that judging knows no source."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.median import median

GRID_S = 0.005
"""How densely a curve is read."""
SETTLE_S = 0.06
"""After a pick a string takes so long to come to its pitch."""
FIRST_S = ((SETTLE_S, 4 * SETTLE_S), (SETTLE_S, 2 * SETTLE_S), (0.0, SETTLE_S))
"""Spans after a pick in any of which its pitch may be read: it may soon glide on from there."""
CLEAR_SUPPORT = 0.35
"""A string of whose partials so large a share is there is clearly heard."""
MADE_OUT_S = 0.15
"""A pitch that was made out so soon after the start, or so shortly before it was lost, is that which it had there."""


@dataclass(frozen=True)
class HeardNote:
    """One string from a pick until it is silent or picked again.

    Seconds from the start of the take; MIDI numbers with decimals as it sounded; NaN where the pitch was not heard.
    The curve is linear between its points, which may lie at any distance.
    """

    string: int | None
    """None: no string can be named."""
    start_s: float
    end_s: float
    times_s: NDArray[np.float64]
    midis: NDArray[np.float64]
    tail_db: float | None = None
    """How much of the string is left some time after its written end, against before; None where that cannot be
    told."""
    supports: NDArray[np.float64] | None = None
    """How much of what its pitch calls for was there at each of its times, 0 to 1; None where the source says itself
    what was played."""
    faded_s: float | None = None
    """From when on it was lost in the noise, though nobody silenced it and nothing covered it; None if it was not."""

    @property
    def heard_until_s(self) -> float:
        """When it ended, or was lost in the noise."""
        return self.end_s if self.faded_s is None else min(self.faded_s, self.end_s)

    def support(self, start_s: float, stop_s: float) -> float:
        """The mean of that between two times; 0 where nothing was heard."""
        if self.supports is None:
            return 1.0
        inside = (self.times_s >= start_s) & (self.times_s <= stop_s)
        return float(self.supports[inside].mean()) if inside.any() else 0.0

    def share(self, start_s: float, stop_s: float) -> float:
        """How much of the time between two times it was clearly heard, 0 to 1."""
        start_s, stop_s = max(start_s, self.start_s), min(stop_s, self.end_s)
        if self.supports is None or len(self.times_s) < 2 or stop_s <= start_s:
            return float(self.supports is None)
        frame_s = median(np.diff(self.times_s))
        clear = self.supports >= CLEAR_SUPPORT
        heard = np.count_nonzero(clear & (self.times_s >= start_s) & (self.times_s <= stop_s))
        return min(1.0, heard * frame_s / (stop_s - start_s))

    def curve(self, start_s: float, stop_s: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Times on a grid of `GRID_S` between two times, and the pitch there; only where it was heard."""
        known_s, midis = self._known
        if not len(known_s):
            return np.empty(0), np.empty(0)
        start_s, stop_s = max(start_s, self.start_s), min(stop_s, self.heard_until_s)
        if self.supports is not None and known_s[0] > self.start_s + MADE_OUT_S:
            start_s = max(start_s, known_s[0])
        if self.faded_s is not None and known_s[-1] < self.heard_until_s - MADE_OUT_S:
            stop_s = min(stop_s, known_s[-1])
        if stop_s < start_s:
            return np.empty(0), np.empty(0)
        count = int((stop_s - start_s) / GRID_S + 1e-6) + 1
        times = np.asarray(start_s + np.arange(count) * GRID_S, dtype=np.float64)
        return times, np.interp(times, known_s, midis)

    @cached_property
    def first_midis(self) -> list[float]:
        """The middle pitches of some spans soon after its start, of those in which it was heard."""
        levels = [self.median_midi(self.start_s + low, self.start_s + high) for low, high in FIRST_S]
        return [level for level in levels if level is not None]

    @cached_property
    def _known(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The curve where it was heard."""
        known = np.isfinite(self.midis)
        return (self.times_s, self.midis) if known.all() else (self.times_s[known], self.midis[known])

    def median_midi(self, start_s: float, stop_s: float) -> float | None:
        """The middle pitch between two times; None where nothing was heard."""
        _, midis = self.curve(start_s, stop_s)
        return median(midis) if len(midis) else None
