"""Any sample rate in, the working rate out; how the input is cut into blocks changes nothing in the samples."""

from __future__ import annotations

import numpy as np
import soxr
from numpy.typing import NDArray

WORK_RATE_HZ = 24_000
"""Twelve kilohertz of sound: all of a pickup's picks and partials, at half the cost of 48 kHz."""
_NOTHING = np.empty(0, dtype=np.float32)


class Resampler:
    """Mono float32 samples at `rate_hz` in, float32 samples at `WORK_RATE_HZ` out."""

    def __init__(self, rate_hz: int) -> None:
        self._stream: soxr.ResampleStream | None = None
        if rate_hz != WORK_RATE_HZ:
            self._stream = soxr.ResampleStream(rate_hz, WORK_RATE_HZ, 1, dtype="float32")

    def feed(self, samples: NDArray[np.float32]) -> NDArray[np.float32]:
        """The samples that can be given out so far; possibly none."""
        return samples if self._stream is None else self._stream.resample_chunk(np.ascontiguousarray(samples))

    def finish(self) -> NDArray[np.float32]:
        """What the filter still holds at the end of the take."""
        return _NOTHING if self._stream is None else self._stream.resample_chunk(_NOTHING, last=True)
