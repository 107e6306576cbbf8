"""Plucked strings made from physics: stiffness stretches the partials, a body colours them, two planes of motion beat.

Modal synthesis (Fletcher and Rossing, "The Physics of Musical Instruments", 2nd edition, chapters 2 and 9; amounts from
common practice, no source). MIDI numbers in, mono samples at a given rate out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
HIGHEST_SHARE = 0.42
"""Of the rate: no partials above."""


@dataclass(frozen=True)
class Body:
    """What carries the strings."""

    stiffness: float
    """The B of a string at 165 Hz: partial n lies sqrt(1 + B n²) too high."""
    loss: float
    """How fast the lowest partials die away, in 1/s."""
    modes: tuple[tuple[float, float, float], ...]
    """(Hz, width in Hz, gain) of its resonances, above a gain of one."""
    thump: float
    """How loud a pluck shakes the body itself."""


MODELLED = Body(4e-5, 0.45, ((105.0, 30.0, 1.5), (210.0, 40.0, 2.0), (420.0, 90.0, 1.0), (2400.0, 700.0, 0.6)), 0.08)
CONE = Body(
    7e-5, 1.3,
    ((160.0, 40.0, 1.0), (380.0, 60.0, 4.0), (760.0, 110.0, 3.0), (1400.0, 300.0, 3.0), (3100.0, 900.0, 2.0)), 0.2,
)  # fmt: skip
"""A metal cone in the top: nasal, and soon gone."""


def plucked(midi: float, body: Body, length_s: float, rate_hz: int) -> Samples:
    """A string that rings alone; the same pitch always gives the same sound."""
    rng = np.random.default_rng((9, round(100.0 * midi)))
    times = np.arange(round(length_s * rate_hz)) / rate_hz
    f0_hz = 440.0 * 2.0 ** ((midi - 69.0) / 12.0)
    stiffness = body.stiffness * (f0_hz / 165.0) ** 0.8
    pluck, pickup = 0.17 + 0.02 * rng.random(), 0.11
    sound = np.zeros(len(times))
    for n in range(1, 41):
        hz = n * f0_hz * np.sqrt(1.0 + stiffness * n * n)
        if hz > HIGHEST_SHARE * rate_hz:
            break
        level = abs(np.sin(n * np.pi * pluck) * np.sin(n * np.pi * pickup)) / n**0.6 * np.exp(-n / 18.0)
        level *= 1.0 + sum(gain / (1.0 + ((hz - at) / (0.5 * width)) ** 2) for at, width, gain in body.modes)
        loss = body.loss * (1.0 + 0.5 * hz / 1000.0 + 0.12 * (hz / 1000.0) ** 2)
        for weight, faster, cents in ((0.75, 1.0, 0.0), (0.25, 2.2, float(rng.uniform(0.3, 0.8)))):
            phase = 2.0 * np.pi * hz * 2.0 ** (cents / 1200.0) * times
            sound += weight * level * np.exp(-faster * loss * times) * np.sin(phase)
    sound /= np.abs(sound).max()
    for at, width, _ in body.modes[:3]:
        sound += body.thump * np.exp(-np.pi * width * times) * np.sin(2.0 * np.pi * at * times)
    sound += 0.06 * rng.normal(size=len(times)) * np.exp(-times / 0.002)
    return np.asarray(sound * np.clip(times / 0.0015, 0.0, 1.0), dtype=np.float32)
