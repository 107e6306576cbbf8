"""When a glide ends: the line through its 20 % and 80 % points meets the settled pitch."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

LOW, HIGH = 0.2, 0.8


def glide_of(
    times_s: NDArray[np.float64], midis: NDArray[np.float64], from_midi: float, to_midi: float, blur_s: float
) -> tuple[float, float] | None:
    """Start and end of the last glide from one pitch to another on a curve, in seconds; None if it never gets across.
    Where the curve falls back under its 80 % point it ends at that passing of it by which a straight glide explains the
    curve best.

    `blur_s` is the standard deviation of the window that the curve was heard through. Blurring a straight glide leaves
    its middle and adds 12 blur_s² to the square of its length, which is taken off again.
    """
    share = (midis - from_midi) / (to_midi - from_midi)
    over = np.flatnonzero((share[1:] >= 0.5) & (share[:-1] < 0.5)) + 1
    if not len(over):
        return None
    middle = int(over[-1])
    below = np.flatnonzero(share[:middle] <= LOW)
    start_at = int(below[-1]) if len(below) else 0
    low_s = _crossing(times_s, share, start_at, LOW) if len(below) else float(times_s[0])
    passed = np.flatnonzero((share[middle:] >= HIGH) & (share[middle - 1 : -1] < HIGH)) + middle - 1
    highs_s = [_crossing(times_s, share, at, HIGH) for at in passed.tolist()] or [float(times_s[-1])]
    glides = [_straight(low_s, high_s, blur_s) for high_s in highs_s]
    return min(glides, key=lambda ends: float(np.abs(np.interp(times_s, ends, (0.0, 1.0)) - share).sum()))


def _straight(low_s: float, high_s: float, blur_s: float) -> tuple[float, float]:
    """Start and end of the line through its 20 % and 80 % points, as it was before it was blurred."""
    length_s = (high_s - low_s) / (HIGH - LOW)
    length_s = math.sqrt(max(0.0, length_s**2 - 12.0 * blur_s**2))
    centre_s = 0.5 * (low_s + high_s)
    return centre_s - 0.5 * length_s, centre_s + 0.5 * length_s


def _crossing(times_s: NDArray[np.float64], share: NDArray[np.float64], at: int, level: float) -> float:
    """Where the curve passes a level between point `at` and the next."""
    rise = share[at + 1] - share[at]
    part = (level - share[at]) / rise if rise > 0.0 else 1.0
    return float(times_s[at] + min(max(part, 0.0), 1.0) * (times_s[at + 1] - times_s[at]))
