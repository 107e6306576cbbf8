"""Any sample rate in, the working rate out.

The resampler is fed pieces of one fixed size, whatever the blocks that arrive, so that its output does not depend on
how the input was cut.
"""

from __future__ import annotations

import numpy as np
import soxr
from numpy.typing import NDArray

WORK_RATE_HZ = 24_000
"""Twelve kilohertz of sound: all of a pickup's picks and partials, at half the cost of 48 kHz."""
PIECE_S = 0.005


class Resampler:
    """Mono float32 samples at `rate_hz` in, float32 samples at `WORK_RATE_HZ` out."""

    def __init__(self, rate_hz: int) -> None:
        self._stream = (
            soxr.ResampleStream(rate_hz, WORK_RATE_HZ, 1, dtype="float32") if rate_hz != WORK_RATE_HZ else None
        )
        self._piece = max(1, round(rate_hz * PIECE_S))
        self._waiting = np.empty(0, dtype=np.float32)

    def feed(self, samples: NDArray[np.float32]) -> NDArray[np.float32]:
        """The samples that can be given out so far; possibly none."""
        if self._stream is None:
            return samples
        waiting = np.concatenate((self._waiting, samples))
        whole = len(waiting) - len(waiting) % self._piece
        pieces = [self._stream.resample_chunk(waiting[at : at + self._piece]) for at in range(0, whole, self._piece)]
        self._waiting = waiting[whole:]
        return np.concatenate(pieces) if pieces else np.empty(0, dtype=np.float32)

    def finish(self) -> NDArray[np.float32]:
        """What the filter still holds at the end of the take."""
        if self._stream is None:
            return np.empty(0, dtype=np.float32)
        return np.asarray(self._stream.resample_chunk(self._waiting, last=True), dtype=np.float32)
