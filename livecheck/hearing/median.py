"""The middle of a few numbers: what `numpy.median` gives, without what that costs for a short array.

Pitch curves are some hundred values long, and their middle is asked for thousands of times a minute of playing; and who
never asks numpy for a median need not wait until it has read its masked arrays.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray


def median(values: NDArray[np.float64] | Sequence[float]) -> float:
    """The middle of some finite numbers, the mean of the two in the middle where their count is even; at least one is
    given."""
    return float(medians(values))


def medians(rows: NDArray[np.float64] | Sequence[NDArray[np.float64]] | Sequence[float]) -> NDArray[np.float64]:
    """The same of some rows, column by column; shape (rows, ...) -> (...)."""
    ordered = np.array(rows)
    ordered.sort(axis=0)
    return np.asarray(0.5 * (ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]))


def nearest_middle(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of some rows, one at least, the middle one that is there, column by column; of two in the middle the one nearer
    to 0, and 0 where all are NaN. Shape (rows, n) -> (n,)."""
    ordered = np.sort(rows, axis=0)
    last = np.maximum(np.isfinite(rows).sum(axis=0) - 1, 0)
    columns = np.arange(rows.shape[1])
    low, high = ordered[last // 2, columns], ordered[(last + 1) // 2, columns]
    return np.asarray(np.nan_to_num(np.where(np.abs(low) < np.abs(high), low, high)))
