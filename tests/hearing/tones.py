"""Plucked tones for tests of the ear: harmonic sums with a scrape at the start, a slow decay and any pitch curve."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ

Samples = NDArray[np.float32]
FADE_S = 0.03
"""How long a hand takes to silence a string; a tone of some duration is silent at its end."""


def tone(
    midi: float | NDArray[np.float64],
    duration_s: float,
    partials: int = 8,
    level: float = 0.1,
    swell_s: float = 0.0,
    dying: float = 1.0,
) -> Samples:
    """A tone at the working rate. `midi`: one pitch, or a pitch per sample. `swell_s`: faded in over so long, no
    pick heard. `dying`: how many times 3.5 dB a second each partial's number falls."""
    count = round(duration_s * WORK_RATE_HZ)
    pitch = np.broadcast_to(np.asarray(midi, dtype=np.float64), (count,))
    phase = 2.0 * np.pi * np.cumsum(440.0 * 2.0 ** ((pitch - 69.0) / 12.0)) / WORK_RATE_HZ
    times = np.arange(count) / WORK_RATE_HZ
    total = np.zeros(count)
    for number in range(1, partials + 1):
        total += 0.75 ** (number - 1) * np.exp(-times * 0.4 * dying * number) * np.sin(number * phase + number)
    scrape = np.random.default_rng(count).normal(0.0, 0.5, count) * np.exp(-times / 0.004)
    ends = np.minimum(times / (swell_s or 0.002), 1.0) * np.clip((duration_s - times) / FADE_S, 0.0, 1.0)
    return np.asarray(level * (total + scrape * (swell_s == 0.0)) * ends, dtype=np.float32)


def laid(parts: list[tuple[float, Samples]], duration_s: float) -> Recording:
    """A recording with tones put at their times, over a floor of faint noise."""
    count = round(duration_s * WORK_RATE_HZ)
    samples = np.random.default_rng(1).normal(0.0, 1e-5, count).astype(np.float32)
    for start_s, part in parts:
        at = round(start_s * WORK_RATE_HZ)
        samples[at : at + len(part)] += part[: count - at]
    recording = Recording()
    recording.append(samples)
    return recording
