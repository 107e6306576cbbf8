"""One tempo for the take, and a start for each figure: straight lines from beats to seconds, fitted robustly.

What was late stays late, and what was mistaken for something else counts for nothing: a line lies where most agrees,
not in the middle of all. Each event speaks for a line by how near it lies, and one far away hardly at all (a
redescending estimate, Geman and McClure 1987), so a line holds where most of what was heard is wrong, but not wrong
together; a median would not. What agrees is then put together by least squares.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.median import median

ARRIVAL_WEIGHT = 0.6
"""The end of a glide is less sharp than a pick."""
NEAR_S = 0.08
"""An event so far off a line says half as much for it as one that lies on it."""
LIKELY_TIMES, UNLIKELY_SHARE = 2.0, 1.0 / 3.0
"""Nobody plays at more than twice or less than half the written tempo, as long as for one in between speaks so much of
what speaks for another: a way that was mistaken hurries through a figure."""
FAR_TIMES = 4.0
"""No tempo further from the written one is looked for."""
OCTAVE_COST = 0.3
"""What a tempo twice as fast or slow as another needs more: of little evidence the likelier is believed."""
FIRST_MORE = 1.05
"""A figure begins with its first event, where nothing else tells."""
RIVAL_SHARE, RIVAL_S = 0.5, 0.1
"""So much of what speaks for a line makes another one its rival, if it lies so far from it."""
INLIER_S = 0.06
"""What lies so near a line is put together by least squares."""
MOST_OFFERED, SAME_SHARE = 100, 0.01
"""So many tempos are tried; of more, those that have most others within this share."""
FREE_BEATS = 5
FREE_RANGE = 0.08
FREE_GAIN = 0.7
"""A figure takes a tempo of its own only if that leaves less than this share of the deviations."""
OWN_MORE = 1.0
"""A tempo by which something comes at the wrong time that is right by the common one needs more than one pick's word:
that pick may be early or late."""


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


def _mean(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    return float((values * weights).sum() / weights.sum())


def fit_free(figures: Sequence[Sequence[Event]], beat_s: float) -> list[Line]:
    """A line for each figure's events, all at one tempo, as the free timing allows. `beat_s` stands where nothing
    tells."""
    common = _refined(figures, _slope(figures, beat_s, (beat_s / FAR_TIMES, beat_s * FAR_TIMES)))
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
        start_s = phase + median(offsets)
    return [Line(start_s + round((float(start) - start_s) / beat_s) * beat_s, beat_s) for start in starts]


def _slope(figures: Sequence[Sequence[Event]], beat_s: float, range_s: tuple[float, float]) -> float:
    """The tempo, in seconds a beat and within a range, at which most of some figures' events agree, each figure
    starting where it will; `beat_s` is the likeliest."""
    slopes = _offered(figures, beat_s, range_s)
    spoken = np.zeros(len(slopes))
    for events in figures:
        if events:
            spoken += _spoken(events, slopes).max(axis=1) - max(event.weight for event in events)
    octaves = np.abs(np.log2(slopes / beat_s))
    spoken = spoken * np.where(octaves <= np.log2(LIKELY_TIMES), 1.0, UNLIKELY_SHARE) - OCTAVE_COST * octaves
    return float(slopes[np.argmax(spoken)])


def _offered(figures: Sequence[Sequence[Event]], beat_s: float, range_s: tuple[float, float]) -> NDArray[np.float64]:
    """The tempos of pairs of events of a figure within a range, and `beat_s`; of many those near which most lie."""
    pairs = [
        ((other.time_s - one.time_s) / (other.beat - one.beat), one.weight * other.weight)
        for events in figures
        for index, one in enumerate(events)
        for other in events[index + 1 :]
        if other.beat - one.beat > 1e-6
    ]
    inside = sorted(pair for pair in pairs if range_s[0] <= pair[0] <= range_s[1])
    slopes = np.array([slope for slope, _ in inside])
    if len(slopes) > MOST_OFFERED:
        summed = np.cumsum([0.0, *(weight for _, weight in inside)])
        first, stop = (np.searchsorted(slopes, slopes * (1.0 + away)) for away in (-SAME_SHARE, SAME_SHARE))
        slopes = slopes[np.argsort(summed[first] - summed[stop], kind="stable")[:MOST_OFFERED]]
    return np.append(slopes, beat_s)


def _spoken(events: Sequence[Event], slopes: NDArray[np.float64]) -> NDArray[np.float64]:
    """How much a figure's events say for lines of some tempos through each of them, shape (tempos, events)."""
    weights = np.array([e.weight * (FIRST_MORE if e.beat == events[0].beat else 1.0) for e in events])
    starts = _starts(events, slopes)
    off = (starts[:, np.newaxis, :] - starts[:, :, np.newaxis]) / NEAR_S
    return np.asarray((weights / (1.0 + off * off)).sum(axis=2))


def _starts(events: Sequence[Event], slopes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where each of a figure's events puts beat 1 at some tempos, shape (tempos, events)."""
    beats = np.array([e.beat for e in events]) - 1.0
    return np.asarray(np.array([e.time_s for e in events]) - slopes[:, np.newaxis] * beats)


def _refined(figures: Sequence[Sequence[Event]], beat_s: float) -> float:
    """Least squares over the events near their lines: as robust as these, as precise as a mean."""
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
    """The line at a given tempo on which most of some events agree."""
    tempo = np.array([beat_s])
    starts, spoken = _starts(events, tempo)[0], _spoken(events, tempo)[0]
    weights = np.array([e.weight for e in events])
    most = starts[np.argmax(spoken)]
    near = np.abs(starts - most) < INLIER_S / 2
    return Line(_mean(starts[near], weights[near]), beat_s)


def rival_of(events: Sequence[Event], line: Line) -> Line | None:
    """Where else a figure may lie at the tempo of its line, if more than half as much speaks for that."""
    tempo = np.array([line.beat_s])
    starts, spoken = _starts(events, tempo)[0], _spoken(events, tempo)[0]
    elsewhere = np.where(np.abs(starts - line.start_s) > RIVAL_S, spoken, 0.0)
    at = int(np.argmax(elsewhere))
    return line_at([events[at]], line.beat_s) if elsewhere[at] > RIVAL_SHARE * spoken.max() else None


def _own(events: Sequence[Event], common: Line) -> Line:
    """A figure's own tempo, if it has beats enough to show one and clearly does."""
    if len({e.beat for e in events}) < FREE_BEATS:
        return common
    range_s = common.beat_s / (1 + FREE_RANGE), common.beat_s / (1 - FREE_RANGE)
    slope = _slope([events], common.beat_s, range_s)
    own = line_at(events, _refined([events], slope))
    if not range_s[0] <= own.beat_s <= range_s[1]:
        own = line_at(events, slope)
    clearly = _misfit(events, own) < FREE_GAIN * _misfit(events, common) - 0.002
    astray = any(_speaks(e, common) >= 0.5 * e.weight > _speaks(e, own) for e in events)
    more = sum(_speaks(e, own) - _speaks(e, common) for e in events)
    return own if clearly and (not astray or more > OWN_MORE) else common


def _speaks(event: Event, line: Line) -> float:
    """How much an event says for a line."""
    return event.weight / (1.0 + ((event.time_s - line.time_s(event.beat)) / NEAR_S) ** 2)


def _misfit(events: Sequence[Event], line: Line) -> float:
    """Mean deviation in seconds, none counted as more than the inlier range."""
    off = np.abs([e.time_s - line.time_s(e.beat) for e in events])
    return float(np.minimum(off, INLIER_S).mean())
