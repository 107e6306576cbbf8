"""Sound of plucked strings that glide, for drafts: each a list of (seconds, MIDI number) knots."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

RATE_HZ = 24_000
PARTIALS = 9

Knots = Sequence[tuple[float, float]]


def plucked(strings: Sequence[Knots], length_s: float) -> NDArray[np.float32]:
    """Each string sounds from its first knot to its last."""
    out = np.random.default_rng(1).normal(0.0, 1e-4, round(length_s * RATE_HZ))
    for number, knots in enumerate(strings):
        times_s, midis = zip(*knots, strict=True)
        first, stop = round(times_s[0] * RATE_HZ), round(times_s[-1] * RATE_HZ)
        grid_s = np.arange(first, stop) / RATE_HZ
        phase = 2.0 * np.pi * np.cumsum(440.0 * 2.0 ** ((np.interp(grid_s, times_s, midis) - 69.0) / 12.0)) / RATE_HZ
        since_s = grid_s - grid_s[0]
        shape = np.minimum(1.0, np.minimum(since_s / 0.003, (grid_s[-1] - grid_s) / 0.01))
        waves = [np.sin(k * phase + 0.7 * number) / k * np.exp(-(0.4 + 0.25 * k) * since_s) for k in range(1, PARTIALS)]
        out[first:stop] += 0.12 * shape * np.sum(waves, axis=0)
    return out.astype(np.float32)
