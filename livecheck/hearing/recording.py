"""The take so far: one growing run of samples at the working rate."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.resample import WORK_RATE_HZ

PIECE = 1 << 20
"""Samples kept in one piece (44 s): a take that grows is never copied."""


class Recording:
    """Mono float32 samples, appended to; a slice outside what was recorded is silence."""

    def __init__(self) -> None:
        self._pieces: list[NDArray[np.float32]] = []
        self._length = 0

    def append(self, samples: NDArray[np.float32]) -> None:
        while len(samples):
            at = self._length % PIECE
            if at == 0:
                self._pieces.append(np.empty(PIECE, dtype=np.float32))
            part, samples = samples[: PIECE - at], samples[PIECE - at :]
            self._pieces[-1][at : at + len(part)] = part
            self._length += len(part)

    def __len__(self) -> int:
        return self._length

    @property
    def duration_s(self) -> float:
        return self._length / WORK_RATE_HZ

    def slice(self, start: int, stop: int) -> NDArray[np.float32]:
        """Samples start to stop (numbers may lie outside the take), shape (stop - start,)."""
        low, high = max(start, 0), min(stop, self._length)
        first = low // PIECE
        if (low, high) == (start, stop) and low < high <= (first + 1) * PIECE:
            return self._pieces[first][low - first * PIECE : high - first * PIECE]
        out = np.zeros(stop - start, dtype=np.float32)
        while low < high:
            first, at = divmod(low, PIECE)
            part = self._pieces[first][at : min(PIECE, at + high - low)]
            out[low - start : low - start + len(part)] = part
            low += len(part)
        return out
