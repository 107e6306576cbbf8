"""When a glide ends: the line through its 20 % and 80 % points meets the settled pitch."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

LOW, HIGH = 0.2, 0.8


def glide_of(
    times_s: NDArray[np.float64], midis: NDArray[np.float64], from_midi: float, to_midi: float, blur_s: float
) -> tuple[float, float] | None:
    """Start and end of the glide from one pitch to another on a curve, in seconds; None if it never gets across. Where
    the curve falls back under its middle or its 80 % point the glide is that one which explains the curve best.

    `blur_s` is the standard deviation of the window that the curve was heard through. Blurring a straight glide leaves
    its middle and adds 12 blur_s² to the square of its length, which is taken off again.
    """
    share = (midis - from_midi) / (to_midi - from_midi)
    glides = [
        _straight(_low_s(times_s, share, middle), high_s, blur_s)
        for middle in _passed(share, 0.5)
        for high_s in _highs_s(times_s, share, middle)
    ]
    return min(glides, key=lambda ends: float(np.abs(np.interp(times_s, ends, (0.0, 1.0)) - share).sum()), default=None)


def _passed(share: NDArray[np.float64], level: float) -> list[int]:
    """The points right after which a curve passes a level upwards."""
    return np.flatnonzero((share[1:] >= level) & (share[:-1] < level)).tolist()


def _low_s(times_s: NDArray[np.float64], share: NDArray[np.float64], middle: int) -> float:
    """When a curve has passed 20 % for the last time before a point; its start, if it begins beyond that."""
    below = np.flatnonzero(share[: middle + 1] <= LOW)
    return _crossing(times_s, share, int(below[-1]), LOW) if len(below) else float(times_s[0])


def _highs_s(times_s: NDArray[np.float64], share: NDArray[np.float64], middle: int) -> list[float]:
    """When a curve passes 80 % from a point on; its end, if it does not."""
    return [_crossing(times_s, share, at, HIGH) for at in _passed(share, HIGH) if at >= middle] or [float(times_s[-1])]


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
