"""The beat behind a take: times in, a beat and round places on it out.

Each time may fall on a whole beat, a half, a third or a quarter. What a place costs is its information: how far off the
time is, in units of what hands do, and how many such places there are. So a longer beat is better than a shorter one
that only has more places, and a fine place has to be worth it (minimum description length; Rissanen, "Modeling by
shortest data description", Automatica 1978). Among beats that explain the times alike the middling tempo is chosen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

SLOWEST, FASTEST = 44.0, 168.0
"""Beats a minute."""
USUAL, USUAL_WIDTH = 84.0, 0.22
"""The tempo that people are at home in, and how far from it they go, as a logarithm (common practice, no source)."""
HAND_S = 0.022
"""How far off hands are."""
FURTHEST = 9.0
"""A time that fits nowhere costs no more than this."""
GRIDS = ((1, 0.0), (2, 0.75), (4, 2.2), (3, 3.0), (8, 5.0))
"""Places a beat, and how unlikely each is, as a logarithm, besides their number."""
NEAR = 0.08
"""A tempo that was asked for may be played so much faster or slower."""
TEMPO_STEP = 0.004
FOLLOWS = 0.2
"""How much of what each time is off the hands are taken to have sped up or slowed down."""


LEAST_GAP = Fraction(1, 8)
"""Beats between two things that fall on one place."""


@dataclass(frozen=True)
class Placed:
    """A time's place."""

    beat: Fraction
    """From 1."""
    off_s: float
    """How far the time was from it."""


def beat_of(figures_s: Sequence[Sequence[float]], tempo: float | None = None) -> float:
    """The beat in seconds that explains best when things happened; each figure's first time is on its first beat.

    `tempo`: in beats a minute, where it is known.
    """
    low, high = (SLOWEST, FASTEST) if tempo is None else (tempo * (1.0 - NEAR), tempo * (1.0 + NEAR))
    count = max(2, round(np.log(high / low) / TEMPO_STEP))
    usual = USUAL if tempo is None else tempo
    width = USUAL_WIDTH if tempo is None else NEAR
    best, least = 60.0 / usual, np.inf
    for beat_s in 60.0 / np.geomspace(low, high, count):
        cost = 0.5 * (np.log(60.0 / beat_s / usual) / width) ** 2
        cost += sum(_cost(np.asarray(times_s), float(beat_s)) for times_s in figures_s)
        if cost < least:
            best, least = float(beat_s), cost
    return _refined(figures_s, best)


def _cost(times_s: NDArray[np.float64], beat_s: float) -> float:
    if len(times_s) < 2:
        return 0.0
    since_s = times_s[1:] - times_s[0]
    return float(np.sum(np.minimum(_costs(since_s, beat_s).min(axis=0), FURTHEST)) - len(since_s) * np.log(beat_s))


def _costs(since_s: NDArray[np.float64], beat_s: float) -> NDArray[np.float64]:
    """What each grid costs each time; shape (grids, times)."""
    rows = []
    for places, unlikely in GRIDS:
        off_s = since_s - np.rint(since_s / beat_s * places) / places * beat_s
        rows.append(0.5 * (off_s / HAND_S) ** 2 + np.log(places) + unlikely)
    return np.array(rows)


def _refined(figures_s: Sequence[Sequence[float]], beat_s: float) -> float:
    """The beat by the middle of what all intervals say, once their places are known."""
    for _ in range(2):
        beats_s: list[float] = []
        weights: list[float] = []
        for times_s in figures_s:
            placed = places_of(times_s, beat_s)
            for time_s, place in zip(times_s, placed, strict=True):
                if place.beat > 1:
                    beats_s.append((time_s - times_s[0]) / float(place.beat - 1))
                    weights.append(float(place.beat - 1))
        if beats_s:
            order = np.argsort(beats_s)
            summed = np.cumsum(np.array(weights)[order])
            beat_s = float(np.array(beats_s)[order][np.searchsorted(summed, 0.5 * summed[-1])])
    return beat_s


def places_of(times_s: Sequence[float], beat_s: float) -> list[Placed]:
    """A place for each time, in order, no two alike; the first is beat 1."""
    placed = [Placed(Fraction(1), 0.0)] if len(times_s) else []
    drift_s = 0.0
    for time_s in times_s[1:]:
        since_s = time_s - times_s[0] - drift_s
        costs = _costs(np.array([since_s]), beat_s)[:, 0]
        for grid in np.argsort(costs):
            places = GRIDS[int(grid)][0]
            beat = 1 + Fraction(round(since_s / beat_s * places), places)
            if beat > placed[-1].beat:
                break
        else:
            beat = placed[-1].beat + Fraction(1, GRIDS[-1][0])
        off_s = since_s - float(beat - 1) * beat_s
        drift_s += FOLLOWS * float(np.clip(off_s, -2.0 * HAND_S, 2.0 * HAND_S))
        placed.append(Placed(beat, off_s))
    return placed


def place_between(beat: float, beat_s: float, after: Fraction, before: Fraction | None) -> Placed:
    """The likeliest place of what happened at about a beat, later than one place and earlier than another."""
    costs = _costs(np.array([(beat - 1.0) * beat_s]), beat_s)[:, 0]
    for grid in np.argsort(costs):
        place = Fraction(round(beat * GRIDS[int(grid)][0]), GRIDS[int(grid)][0])
        if after < place and (before is None or place < before):
            return Placed(place, 0.0)
    # All places near it are taken: the nearest free one.
    step = LEAST_GAP if before is None else min(LEAST_GAP, (before - after) / 2)
    return Placed(after + step if before is None or beat - after < before - beat else before - step, 0.0)
