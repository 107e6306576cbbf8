"""The same rows by so many shifts at once, as a best path asks for them frame by frame."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def shifted(rows: NDArray[np.float32], count: int) -> NDArray[np.float32]:
    """Views of some rows, which lie in one piece, from their first place on, their second and so on; shape
    (n, places + count - 1, ...) -> (n, count, places, ...). `numpy`'s own sliding views cost more than what they are
    for, when few rows are worked on."""
    row, place, *rest = rows.strides
    shape = (len(rows), count, rows.shape[1] - count + 1, *rows.shape[2:])
    return np.ndarray(shape, rows.dtype, rows, strides=(row, place, place, *rest))
