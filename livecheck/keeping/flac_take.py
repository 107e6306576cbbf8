"""A take as a FLAC file of 24 bits, written while it is played.

The file can be read at any time, by the next process too if this one is killed: what is missing then is what the
encoder has not yet made a frame of, 4096 samples at most, and the length in the header.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

FULL_SCALE = 2**23


def as_kept(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Samples, full scale 1, as a file of 24 bits gives them back; what is no number becomes 0."""
    return np.asarray(_whole(samples) / FULL_SCALE, dtype=np.float32)


class FlacTake:
    """One channel. Every method raises OSError if the file cannot be written, and then it is closed."""

    def __init__(self, path: Path, rate_hz: int) -> None:
        self._file = _File(path)
        self._sound = soundfile.SoundFile(self._file, "w", rate_hz, 1, "PCM_24", format="FLAC")
        self._check()

    def write(self, samples: NDArray[np.float32]) -> None:
        """Add samples, shape (frames,)."""
        self._sound.write(_whole(samples) << 8)
        self._check()

    def settle(self) -> None:
        """See to it that what was written outlives the machine too."""
        self._file.sync()
        self._check()

    def close(self) -> None:
        """Write what is left, and the length."""
        self._sound.close()
        self._file.sync()
        self._check()
        self._file.close()

    def _check(self) -> None:
        if self._file.error is not None:
            self._sound.close()
            self._file.close()
            raise self._file.error


class _File:
    """A file for libsndfile: errors cannot pass through it, so the first one is kept, and nothing is written after."""

    def __init__(self, path: Path) -> None:
        self._descriptor = os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0))
        self.error: OSError | None = None

    def write(self, data: bytes) -> int:
        view = memoryview(data)
        try:
            while view and self.error is None:
                view = view[os.write(self._descriptor, view) :]
        except OSError as error:
            self.error = error
        return len(data)

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        return os.lseek(self._descriptor, offset, whence)

    def tell(self) -> int:
        return os.lseek(self._descriptor, 0, os.SEEK_CUR)

    def read(self, size: int) -> bytes:
        return os.read(self._descriptor, size)

    def sync(self) -> None:
        try:
            os.fsync(self._descriptor)
        except OSError as error:
            self.error = self.error or error

    def close(self) -> None:
        os.close(self._descriptor)


def _whole(samples: NDArray[np.float32]) -> NDArray[np.int32]:
    scaled = np.rint(np.nan_to_num(samples.astype(np.float64), posinf=1.0, neginf=-1.0) * FULL_SCALE)
    return np.clip(scaled, -FULL_SCALE, FULL_SCALE - 1).astype(np.int32)
