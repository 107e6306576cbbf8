"""What hands make besides notes: the bar rattling on the strings, strings scraped by a slide, muted strings brushed.

Mono samples at 48 kHz. Levels are those of a `Habit`, against the loudest sample that a pick has.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from tests.bench.bank import RATE_HZ
from tests.bench.habit import Habit
from tests.bench.performance import Performance

PICK_PEAK = 0.25
SILENT_DB = -100.0
EVERY_S = 0.9
"""On average, from one rattle to the next."""
CLEAR_S = 0.07
"""From a rattle to any pick."""
BRUSHED_SHARE = 0.5
"""How many picks brush a muted string."""

Samples = NDArray[np.float64]


def noises(performances: Sequence[Performance], habit: Habit, count: int, rng: np.random.Generator) -> Samples:
    """All noises of a take of so many samples."""
    out = np.zeros(count)
    if habit.rattle_db > SILENT_DB:
        peak = PICK_PEAK * 10.0 ** (habit.rattle_db / 20.0)
        for at_s in _free_times(performances, rng):
            _mix(out, at_s, peak * _rattle(rng))
        for start_s, end_s in _slides(performances):
            _mix(out, start_s, 0.5 * peak * _scrape(end_s - start_s, rng))
    if habit.muted_db > SILENT_DB:
        peak = PICK_PEAK * 10.0 ** (habit.muted_db / 20.0)
        for at_s in sorted({round(p, 2) for p in _picks(performances)}):
            if rng.random() < BRUSHED_SHARE:
                _mix(out, at_s + float(rng.uniform(-0.03, 0.01)), peak * _thud(rng))
    return out


def _picks(performances: Sequence[Performance]) -> list[float]:
    return sorted(at_s for p in performances for struck in p.sounded for at_s in (struck.start_s, *struck.again_s))


def _free_times(performances: Sequence[Performance], rng: np.random.Generator) -> Iterator[float]:
    """Now and then, where no pick is near."""
    picks = np.array(_picks(performances))
    at_s, last_s = float(picks[0]), float(picks[-1])
    while at_s < last_s:
        at_s += float(rng.exponential(EVERY_S))
        if float(np.abs(picks - at_s).min()) > CLEAR_S:
            yield at_s


def _slides(performances: Sequence[Performance]) -> list[tuple[float, float]]:
    return sorted(
        {
            (round(glide.start_s, 2), round(glide.end_s, 2))
            for p in performances
            for struck in p.sounded
            for glide in struck.glides
            if abs(glide.semitones) >= 1.5
        }
    )


def _rattle(rng: np.random.Generator) -> Samples:
    """A few clicks of metal on strings: short, high, at odd distances."""
    out = np.zeros(round(0.12 * RATE_HZ))
    times = np.arange(round(0.012 * RATE_HZ)) / RATE_HZ
    for at_s in np.sort(rng.uniform(0.0, 0.08, int(rng.integers(2, 6)))):
        ringing = sum(np.sin(2.0 * np.pi * hz * times + rng.uniform(0.0, 6.0)) for hz in rng.uniform(1200.0, 6500.0, 4))
        _mix(out, float(at_s), ringing * np.exp(-times / 0.003) * float(rng.uniform(0.4, 1.0)))
    return _to_peak(out)


def _scrape(length_s: float, rng: np.random.Generator) -> Samples:
    """Noise of windings under a moving bar."""
    count = max(64, round(length_s * RATE_HZ))
    spectrum = np.fft.rfft(rng.normal(size=count))
    hz = np.fft.rfftfreq(count, 1.0 / RATE_HZ)
    spectrum *= np.exp(-0.5 * (np.log2(np.maximum(hz, 1.0) / 2800.0) / 0.6) ** 2)
    return _to_peak(np.fft.irfft(spectrum, count) * np.hanning(count))


def _thud(rng: np.random.Generator) -> Samples:
    """A string that a finger keeps from ringing: a few low, inharmonic, short sounds and the pick's own noise."""
    times = np.arange(round(0.1 * RATE_HZ)) / RATE_HZ
    low_hz = float(rng.uniform(150.0, 420.0))
    body = sum(
        np.sin(2.0 * np.pi * low_hz * ratio * times) * np.exp(-times / (0.022 / ratio)) for ratio in (1.0, 2.13, 3.4)
    )
    return _to_peak(body + 0.7 * rng.normal(size=len(times)) * np.exp(-times / 0.004))


def _to_peak(sound: Samples) -> Samples:
    return np.asarray(sound / max(1e-9, float(np.abs(sound).max())))


def _mix(into: Samples, at_s: float, sound: Samples) -> None:
    start = max(0, round(at_s * RATE_HZ))
    count = min(len(sound), len(into) - start)
    if count > 0:
        into[start : start + count] += sound[:count]
