"""Where a long take lies while it goes on, or is graded: in a file without a name, so that an hour needs no more memory
than a minute.

Full pieces of a recording go in, what they are read by comes out. The file is gone when nobody uses it any more, even
if this process is killed. What cannot be written stays in memory.
"""

from __future__ import annotations

import os
import sys
import tempfile
from contextlib import suppress
from io import FileIO
from pathlib import Path
from weakref import finalize

import numpy as np
from numpy.typing import NDArray

from livecheck.errors import Unusable


class Aside:
    """`Recording(Aside())`: pieces of float32 samples. In a folder, beside what else is kept, as that is on a disk, or
    in the system's for temporary files."""

    def __init__(self, folder: Path | None = None) -> None:
        self._file, self._where = _nameless(folder)
        self._bytes = 0
        if self._file is not None:
            finalize(self, self._file.close)

    def __call__(self, piece: NDArray[np.float32]) -> NDArray[np.float32] | _Written:
        if self._file is None:
            return piece
        try:
            self._file.seek(self._bytes)
            left = piece.data.cast("B")
            while left:
                left = left[self._file.write(left) :]
        except OSError:  # what is listened to must not be lost because a disk is full
            return piece
        written = _Written(self, self._bytes)
        self._bytes += piece.nbytes
        return written

    def read(self, at: int, count: int) -> NDArray[np.float32]:
        """So many samples that were written from a byte on. Unusable if the disk does not give them back."""
        assert self._file is not None
        out = bytearray(count * np.dtype(np.float32).itemsize)
        left = memoryview(out)
        said = "it has become shorter"
        try:
            while left and (got := _read_at(self._file, at, left)):
                left, at = left[got:], at + got
        except OSError as error:
            said = error.strerror or str(error)
        if left:
            raise Unusable(
                f"{self._where}: the temporary file in which the take lies cannot be read back ({said}); wanted a disk"
                " that keeps it"
            )
        return np.frombuffer(out, dtype=np.float32)


class _Written:
    """One piece in the file."""

    def __init__(self, aside: Aside, at: int) -> None:
        self._aside = aside
        self._at = at

    def __getitem__(self, part: slice) -> NDArray[np.float32]:
        return self._aside.read(self._at + np.dtype(np.float32).itemsize * part.start, part.stop - part.start)


def _read_at(file: FileIO, at: int, into: memoryview) -> int:
    """How many bytes could be read. Forks of a process share the place at which a file is read, and do not move it."""
    if sys.platform == "linux":
        return os.preadv(file.fileno(), [into], at)
    file.seek(at)
    return file.readinto(into) or 0


def _nameless(folder: Path | None) -> tuple[FileIO | None, str]:
    """A file in a folder, or in the system's for temporary files, or none; and where, as one is told."""
    for place in (folder, None):
        with suppress(OSError):
            where = f"{tempfile.gettempdir()} (TMPDIR names another folder)" if place is None else str(place)
            return tempfile.TemporaryFile(dir=place, buffering=0), where
    return None, ""
