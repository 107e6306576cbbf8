"""The middle of a few numbers: what `numpy.median` gives, without what that costs for a short array.

Pitch curves are some hundred values long, and their middle is asked for thousands of times a minute of playing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def median(values: NDArray[np.float64]) -> float:
    """The middle of some finite numbers, the mean of the two in the middle where their count is even; at least one is
    given."""
    ordered = values.copy()
    ordered.sort()
    return float(0.5 * (ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]))
