"""How long sound takes out of the machine and back into it, from what was played and what was heard.

In: frames and samples on one clock, that of the device's stream. Out: seconds, or None where it cannot be told.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

LONGEST_S = 1.0
CLEAR = 4.0
"""The best place must be so many times as likely as any other, and the whole so far above what is there by chance."""
APART_S = 0.01
LEAST_PAIRS = 6
WIDEST_S = 0.04
"""Half of a player's hits lie closer to their middle than this, or it is no playing along."""


def loop_latency_s(played: NDArray[np.float32], heard: NDArray[np.float32], rate_hz: int) -> float | None:
    """When what was played comes back: the lag at which both agree best (cross-correlation, by the Fourier transform).

    Both begin with the same frame; `heard` goes on for `LONGEST_S` after what was played, or for as long as it may.
    """
    size = 1 << (len(played) + len(heard) - 1).bit_length()
    agreed = np.abs(np.fft.irfft(np.fft.rfft(heard, size) * np.conj(np.fft.rfft(played, size)), size))
    lags = agreed[: min(round(LONGEST_S * rate_hz), len(heard))]
    best = int(np.argmax(lags))
    apart = round(APART_S * rate_hz)
    others = np.concatenate((lags[: max(best - apart, 0)], lags[best + apart :]))
    noise = float(np.median(lags))
    if lags[best] <= 0.0 or lags[best] < CLEAR * noise or (len(others) and lags[best] < 1.5 * others.max()):
        return None
    return best / rate_hz


def along_latency_s(clicks_s: Sequence[float], hits_s: Sequence[float], beat_s: float) -> float | None:
    """How much later than the clicks the hits come that belong to them, in the middle.

    A hit belongs to the last click from which it is at most `LONGEST_S`, or a beat, away; a player may also be early by
    up to a fifth of a beat.
    """
    early_s = 0.2 * beat_s
    longest_s = min(LONGEST_S, beat_s - early_s)
    offs = []
    for click_s in clicks_s:
        after = [hit_s - click_s for hit_s in hits_s if -early_s <= hit_s - click_s < longest_s]
        offs += after[:1]
    if len(offs) < LEAST_PAIRS:
        return None
    middle = float(np.median(offs))
    return middle if float(np.median(np.abs(np.array(offs) - middle))) <= WIDEST_S else None
