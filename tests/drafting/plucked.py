"""Sound of plucked strings that glide, for drafts: each a list of (seconds, MIDI number) knots."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

RATE_HZ = 24_000
PARTIALS = 9

Knots = Sequence[tuple[float, float]]


def plucked(
    strings: Sequence[Knots],
    length_s: float,
    odd: float = 1.0,
    loss: float = 0.4,
    gains: Sequence[float] = (),
    hiss: float = 1e-4,
) -> NDArray[np.float32]:
    """Each string sounds from its first knot to its last. `odd`: how strong its odd partials are beside the even ones;
    `loss`: how fast all die away, in 1/s; `gains`: how loud each string is, 1 where not given; `hiss`: its
    root mean square."""
    out = np.random.default_rng(1).normal(0.0, hiss, round(length_s * RATE_HZ))
    for number, knots in enumerate(strings):
        times_s, midis = zip(*knots, strict=True)
        first, stop = round(times_s[0] * RATE_HZ), round(times_s[-1] * RATE_HZ)
        grid_s = np.arange(first, stop) / RATE_HZ
        phase = 2.0 * np.pi * np.cumsum(440.0 * 2.0 ** ((np.interp(grid_s, times_s, midis) - 69.0) / 12.0)) / RATE_HZ
        since_s = grid_s - grid_s[0]
        shape = np.minimum(1.0, np.minimum(since_s / 0.003, (grid_s[-1] - grid_s) / 0.01))
        waves = [
            (odd if k % 2 else 1.0) / k * np.sin(k * phase + 0.7 * number) * np.exp(-(loss + 0.25 * k) * since_s)
            for k in range(1, PARTIALS)
        ]
        gain = gains[number] if number < len(gains) else 1.0
        out[first:stop] += 0.12 * gain * shape * np.sum(waves, axis=0)
    return out.astype(np.float32)
