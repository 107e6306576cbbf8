"""The take so far: one growing run of samples at the working rate."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.resample import WORK_RATE_HZ

PIECE = 1 << 18
"""Samples kept in one piece (11 s): a take that grows is never copied."""


class Piece(Protocol):
    """Samples that may lie anywhere; a run of them is given as an array that nobody writes to."""

    def __getitem__(self, part: slice) -> NDArray[np.float32]: ...


PutAway = Callable[[NDArray[np.float32]], Piece]
"""Takes a piece that is full to where it is kept, and gives what it is read by from now on."""


def in_memory(piece: NDArray[np.float32]) -> Piece:
    """Full pieces stay where they are."""
    return piece


class Recording:
    """Mono float32 samples, appended to; a slice outside what was recorded is silence."""

    def __init__(self, put_away: PutAway = in_memory) -> None:
        self._put_away = put_away
        self._pieces: list[Piece] = []
        """Those that are full."""
        self._filling = np.empty(PIECE, dtype=np.float32)
        self._length = 0

    def append(self, samples: NDArray[np.float32]) -> None:
        while len(samples):
            at = self._length % PIECE
            part, samples = samples[: PIECE - at], samples[PIECE - at :]
            self._filling[at : at + len(part)] = part
            self._length += len(part)
            if at + len(part) == PIECE:
                self._pieces.append(self._put_away(self._filling))
                if self._pieces[-1] is self._filling:
                    self._filling = np.empty(PIECE, dtype=np.float32)

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
            return self._part(first, low - first * PIECE, high - first * PIECE)
        out = np.zeros(stop - start, dtype=np.float32)
        while low < high:
            first, at = divmod(low, PIECE)
            part = self._part(first, at, min(PIECE, at + high - low))
            out[low - start : low - start + len(part)] = part
            low += len(part)
        return out

    def _part(self, piece: int, start: int, stop: int) -> NDArray[np.float32]:
        return self._pieces[piece][start:stop] if piece < len(self._pieces) else self._filling[start:stop]
