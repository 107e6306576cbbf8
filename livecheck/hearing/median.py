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


def least_middle(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """The middle value of each column, shape (n, columns) -> (columns,): NaN counts for nothing, of two in the middle
    the one nearer to 0 stands, of none 0."""
    ordered = np.sort(rows, axis=0)
    count = np.isfinite(rows).sum(axis=0)
    columns = np.arange(rows.shape[1])
    low, high = (ordered[np.clip(middle, 0, len(rows) - 1), columns] for middle in ((count - 1) // 2, count // 2))
    return np.where(count > 0, np.where(np.abs(low) < np.abs(high), low, high), 0.0)
