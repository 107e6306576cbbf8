"""Plucked strings, and what they may sound in, to look for a delay unit in."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ

Samples = NDArray[np.float64]


def recording_of(samples: Samples) -> Recording:
    recording = Recording()
    recording.append(samples.astype(np.float32))
    return recording


def plucks(seconds: float, seed: int = 1) -> Samples:
    """Strings by the plucked-string algorithm of Karplus and Strong (Computer Music Journal, 1983), at odd times."""
    rng = np.random.default_rng(seed)
    out = np.zeros(round(seconds * WORK_RATE_HZ))
    at = 0
    while at < len(out) - WORK_RATE_HZ:
        period = int(rng.integers(60, 180))
        string = np.zeros(min(2 * WORK_RATE_HZ, len(out) - at))
        string[:period] = rng.uniform(-0.3, 0.3, period)
        for start in range(period, len(string) - period, period):
            before = string[start - period - 1 : start] if start > period else np.pad(string[:period], (1, 0))
            string[start : start + period] += 0.498 * (before[1:] + before[:-1])
        out[at : at + len(string)] += string
        at += int(rng.uniform(0.3, 0.9) * WORK_RATE_HZ)
    return out


def db_beside(samples: Samples, beside: Samples) -> float:
    return float(10.0 * np.log10(np.mean(samples**2) / np.mean(beside**2)))


def in_reverb(played: Samples) -> Samples:
    rng = np.random.default_rng(3)
    tail = rng.normal(size=WORK_RATE_HZ) * 10.0 ** (-3.0 * np.arange(WORK_RATE_HZ) / WORK_RATE_HZ)
    wet = np.fft.irfft(np.fft.rfft(played, 1 << 20) * np.fft.rfft(tail, 1 << 20))[: len(played)]
    return np.asarray(played + wet * 0.3 * np.sqrt(np.mean(played**2) / np.mean(wet**2)))


def with_drum_machine(played: Samples) -> Samples:
    """The very same click every half second, as loud as the strings."""
    rng = np.random.default_rng(4)
    click = np.zeros(WORK_RATE_HZ // 2)
    click[:2000] = rng.normal(size=2000) * np.exp(-np.arange(2000) / 300.0)
    machine = np.resize(click, len(played))
    return np.asarray(played + machine * np.sqrt(np.mean(played**2) / np.mean(machine**2)))
