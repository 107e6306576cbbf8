"""One tempo for the take, and a start for each figure: straight lines from beats to seconds, fitted robustly.

Medians, not means, so that what was late stays late: the slope is a weighted median of the slopes between all
pairs of events of a figure (Theil 1950, Sen 1968), the start a weighted median of what is left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

ARRIVAL_WEIGHT = 0.6
"""The end of a glide is less sharp than a pick."""
LIKELY_TIMES, LIKELY_SHARE = 2.0, 0.25
"""Nobody plays at more than twice or less than half the written tempo, as long as so much says something else: a way
that was mistaken hurries through a figure."""
INLIER_S = 0.06
FREE_BEATS = 5
FREE_RANGE = 0.08
FREE_GAIN = 0.7
"""A figure takes a tempo of its own only if that leaves less than this share of the deviations."""


@dataclass(frozen=True)
class Event:
    """Something asked at a beat and heard at a time."""

    beat: float
    time_s: float
    weight: float = 1.0


@dataclass(frozen=True)
class Line:
    """Beat 1 at `start_s`, then `beat_s` seconds a beat."""

    start_s: float
    beat_s: float

    def time_s(self, beat: float) -> float:
        return self.start_s + (beat - 1.0) * self.beat_s


def weighted_median(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    """The value below and above which lies half of the weight; the mean of two where it falls between them."""
    order = np.argsort(values)
    summed = np.cumsum(weights[order])
    half = 0.5 * summed[-1]
    at = int(np.searchsorted(summed, half - 1e-12))
    if abs(summed[at] - half) < 1e-12 and at + 1 < len(values):
        return float(0.5 * (values[order[at]] + values[order[at + 1]]))
    return float(values[order[at]])


def _mean(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    return float((values * weights).sum() / weights.sum())


def fit_free(figures: Sequence[Sequence[Event]], beat_s: float) -> list[Line]:
    """A line for each figure's events, all at one tempo, as the free timing allows. `beat_s` stands where nothing
    tells."""
    common = _refined(figures, _slope(figures, beat_s))
    return [_own(events, line_at(events, common)) for events in figures]


def fit_click(
    figures: Sequence[Sequence[Event]], beat_s: float, start_s: float | None, begins_s: Sequence[float] = ()
) -> list[Line]:
    """Lines at the lesson's own tempo, all starting on beats of one grid, whose phase is fitted once or given; or, with
    `begins_s`, each on beats counted from the nearest of these."""
    starts = np.array([line_at(events, beat_s).start_s for events in figures])
    if begins_s:
        nearest = [min(begins_s, key=lambda begin_s: abs(begin_s - start)) for start in starts.tolist()]
        return [
            Line(near + round((start - near) / beat_s) * beat_s, beat_s)
            for near, start in zip(nearest, starts.tolist(), strict=True)
        ]
    if start_s is None:
        turns = np.exp(2j * np.pi * starts / beat_s)
        phase = float(np.angle(turns.sum()) / (2 * np.pi) * beat_s)
        offsets = (starts - phase + beat_s / 2) % beat_s - beat_s / 2
        start_s = phase + weighted_median(offsets, np.ones(len(offsets)))
    return [Line(start_s + round((float(start) - start_s) / beat_s) * beat_s, beat_s) for start in starts]


def _slope(figures: Sequence[Sequence[Event]], beat_s: float) -> float:
    slopes, weights = [], []
    for events in figures:
        for index, one in enumerate(events):
            for other in events[index + 1 :]:
                gap = other.beat - one.beat
                if gap > 1e-6:
                    slopes.append((other.time_s - one.time_s) / gap)
                    weights.append(gap * one.weight * other.weight)
    if not slopes:
        return beat_s
    found, weight = np.array(slopes), np.array(weights)
    likely = (found > beat_s / LIKELY_TIMES) & (found < beat_s * LIKELY_TIMES)
    if weight[likely].sum() > LIKELY_SHARE * weight.sum():
        found, weight = found[likely], weight[likely]
    return weighted_median(found, weight)


def _refined(figures: Sequence[Sequence[Event]], beat_s: float) -> float:
    """Least squares over the events near their lines: the median's robustness, the mean's precision."""
    for _ in range(3):
        over = under = 0.0
        for events in figures:
            line = line_at(events, beat_s)
            near = [e for e in events if abs(e.time_s - line.time_s(e.beat)) < INLIER_S]
            if len(near) < 2:
                continue
            weights = np.array([e.weight for e in near])
            beats = np.array([e.beat for e in near])
            times = np.array([e.time_s for e in near])
            beats = beats - _mean(beats, weights)
            times = times - _mean(times, weights)
            over += float((weights * beats * times).sum())
            under += float((weights * beats * beats).sum())
        if under <= 0.0 or over <= 0.0:
            return beat_s
        beat_s = over / under
    return beat_s


def line_at(events: Sequence[Event], beat_s: float) -> Line:
    """The line at a given tempo that lies best among some events: the weighted median of where each puts its start."""
    starts = np.array([e.time_s - (e.beat - 1.0) * beat_s for e in events])
    weights = np.array([e.weight for e in events])
    first = np.array([1.0 + 0.05 * (e.beat == events[0].beat) for e in events])
    middle = weighted_median(starts, weights * first)
    near = np.abs(starts - middle) < INLIER_S / 2
    return Line(_mean(starts[near], weights[near]) if near.any() else middle, beat_s)


def _own(events: Sequence[Event], common: Line) -> Line:
    """A figure's own tempo, if it has beats enough to show one and clearly does."""
    if len({e.beat for e in events}) < FREE_BEATS:
        return common
    slope = float(
        np.clip(_slope([events], common.beat_s), common.beat_s / (1 + FREE_RANGE), common.beat_s / (1 - FREE_RANGE))
    )
    own = line_at(events, _refined([events], slope))
    if not common.beat_s / (1 + FREE_RANGE) <= own.beat_s <= common.beat_s / (1 - FREE_RANGE):
        own = line_at(events, slope)
    return own if _misfit(events, own) < FREE_GAIN * _misfit(events, common) - 0.002 else common


def _misfit(events: Sequence[Event], line: Line) -> float:
    """Mean deviation in seconds, none counted as more than the inlier range."""
    off = np.abs([e.time_s - line.time_s(e.beat) for e in events])
    return float(np.minimum(off, INLIER_S).mean())
