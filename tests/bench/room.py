"""What lies between the string and the file: echo, reverb, a band in the same room, hum and hiss, a driven amplifier.

Mono samples at 48 kHz in, the same length out; the same seed gives the same room. These have one level each;
`tests.bench.dirt` has more kinds from mild to harsh, named such as `delay:middle`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from tests.bench.bank import RATE_HZ, bank, read_at
from tests.bench.dirt import WET, Heard, dirty

Samples = NDArray[np.float64]
BAND_DB, WET_DB = -20.0, -10.0
ECHOING = frozenset({"echo", "reverb"})
"""Where a string that was silenced is still heard."""


def is_wet(room: str) -> bool:
    """Whether a string that was silenced is still heard in a room."""
    return room in ECHOING or room.partition(":")[0] in WET


def in_room(sound: NDArray[np.float32], room: str, seed: int, beat_s: float) -> Heard:
    """The sound as it comes out of a room; `dry` leaves it as it is. `beat_s`: the player's, for what is in time."""
    if room == "dry":
        return Heard(sound, RATE_HZ)
    kind, _, level = room.partition(":")
    if level:
        return dirty(sound, kind, level, seed, beat_s)
    heard = ROOMS[room](sound.astype(np.float64), np.random.default_rng((seed, 5)))
    return Heard((heard * min(1.0, 0.95 / float(np.abs(heard).max()))).astype(np.float32), RATE_HZ)


def _echo(sound: Samples, rng: np.random.Generator) -> Samples:
    """A delay unit: repeats that die away by half or more each time."""
    delay = round(rng.uniform(0.26, 0.48) * RATE_HZ)
    level, feedback = rng.uniform(0.3, 0.45), rng.uniform(0.2, 0.4)
    heard = sound.copy()
    for repeat in range(1, 5):
        shift = repeat * delay
        if shift < len(sound):
            heard[shift:] += level * feedback ** (repeat - 1) * sound[:-shift]
    return heard


def _reverb(sound: Samples, rng: np.random.Generator) -> Samples:
    """A hall: decaying noise, darker as it decays, 1 to 1.8 s to fall by 60 dB."""
    fall_s = rng.uniform(1.0, 1.8)
    times = np.arange(round(fall_s * RATE_HZ)) / RATE_HZ
    tail = rng.normal(size=len(times)) * 10.0 ** (-3.0 * times / fall_s)
    tail = np.convolve(tail, np.hanning(12) / np.hanning(12).sum(), mode="same")
    tail[: round(0.015 * RATE_HZ)] = 0.0
    tail /= np.sqrt(np.sum(tail**2))
    size = 1 << (len(sound) + len(tail)).bit_length()
    wet = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)[: len(sound)]
    return np.asarray(sound + 10.0 ** (WET_DB / 20.0) * wet)


def _band(sound: Samples, rng: np.random.Generator) -> Samples:
    """Bass and drums in the room, at a tempo of their own."""
    beat_s = 60.0 / rng.uniform(80.0, 120.0)
    band = np.zeros(len(sound))
    notes = bank("jazz")
    for beat, at_s in enumerate(np.arange(0.1, len(sound) / RATE_HZ - 0.5, beat_s)):
        _mix(
            band,
            at_s,
            read_at(
                notes.nearest(33.0).samples,
                _bass_rate(rng) * np.arange(round(0.8 * beat_s * RATE_HZ), dtype=np.float64),
            ),
        )
        _mix(band, at_s, _drum(rng, 0.15, 900.0 if beat % 2 else 90.0))
        for half in (0.0, 0.5):
            _mix(band, at_s + half * beat_s, 0.3 * _drum(rng, 0.03, 7000.0))
    band *= 10.0 ** (BAND_DB / 20.0) * np.sqrt(np.mean(sound**2) / np.mean(band**2))
    return sound + band


def _bass_rate(rng: np.random.Generator) -> float:
    return float(2.0 ** ((rng.integers(28, 44) - 33.0) / 12.0))


def _drum(rng: np.random.Generator, fall_s: float, centre_hz: float) -> Samples:
    times = np.arange(round(3.0 * fall_s * RATE_HZ)) / RATE_HZ
    noise = rng.normal(size=len(times)) if centre_hz > 200.0 else np.ones(len(times))
    return np.asarray(noise * np.cos(2.0 * np.pi * centre_hz * times) * np.exp(-times / fall_s * 2.0))


def _mix(into: Samples, at_s: float, sound: Samples) -> None:
    start = round(at_s * RATE_HZ)
    count = min(len(sound), len(into) - start)
    if count > 0:
        into[start : start + count] += sound[:count]


def _hum(sound: Samples, rng: np.random.Generator) -> Samples:
    """A single-coil pickup: mains hum with its harmonics, and hiss."""
    times = np.arange(len(sound)) / RATE_HZ
    mains_hz = float(rng.choice((50.0, 60.0)))
    hum = sum(np.sin(2.0 * np.pi * mains_hz * n * times + n) / n for n in (1, 2, 3, 5, 7))
    loud = np.sqrt(np.mean(sound**2))
    return np.asarray(sound + loud * (10.0**-1.7 * hum + 10.0**-1.9 * rng.normal(size=len(sound))))


def _driven(sound: Samples, rng: np.random.Generator) -> Samples:
    """An amplifier near its limit: strings that ring together give sums and differences as well."""
    drive = rng.uniform(1.5, 3.0) / np.percentile(np.abs(sound), 99.5)
    return np.asarray(np.tanh(drive * sound) * 0.5)


ROOMS: Mapping[str, Callable[[Samples, np.random.Generator], Samples]] = {
    "echo": _echo,
    "reverb": _reverb,
    "band": _band,
    "hum": _hum,
    "driven": _driven,
}
