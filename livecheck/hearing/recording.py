"""The take so far: one growing run of samples at the working rate."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.resample import WORK_RATE_HZ


class Recording:
    """Mono float32 samples, appended to; a slice outside what was recorded is silence."""

    def __init__(self) -> None:
        self._samples = np.zeros(WORK_RATE_HZ, dtype=np.float32)
        self._length = 0

    def append(self, samples: NDArray[np.float32]) -> None:
        needed = self._length + len(samples)
        if needed > len(self._samples):
            grown = np.zeros(max(needed, len(self._samples) * 3 // 2), dtype=np.float32)
            grown[: self._length] = self._samples[: self._length]
            self._samples = grown
        self._samples[self._length : needed] = samples
        self._length = needed

    def __len__(self) -> int:
        return self._length

    @property
    def duration_s(self) -> float:
        return self._length / WORK_RATE_HZ

    def slice(self, start: int, stop: int) -> NDArray[np.float32]:
        """Samples start to stop (numbers may lie outside the take), shape (stop - start,)."""
        if start >= 0 and stop <= self._length:
            return self._samples[start:stop]
        out = np.zeros(stop - start, dtype=np.float32)
        low, high = max(start, 0), min(stop, self._length)
        if high > low:
            out[low - start : high - start] = self._samples[low:high]
        return out
