"""Files as bytes and text; every way in which one cannot be read is an `Unusable`.

Paths are shown as the user gave them.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

from livecheck.errors import Unusable

MOST_TEXT_BYTES = 1_000_000
"""A lesson of a thousand figures has about a quarter of this."""


def read_text(path: str | Path, wanted: str) -> str:
    """The text of a UTF-8 file, with or without a byte order mark. `wanted` says what it should be: "a lesson file"."""
    data = read_bytes(path, MOST_TEXT_BYTES, wanted)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Unusable(f"{path}: is not UTF-8 text (byte {error.start + 1}); wanted {wanted} in UTF-8") from None


def read_bytes(path: str | Path, most_bytes: int, wanted: str) -> bytes:
    """All bytes of a file that is no larger than `most_bytes`."""
    descriptor = open_for_reading(path, wanted)
    try:
        with open(descriptor, "rb") as file:
            data = file.read(most_bytes + 1)
    except OSError as error:
        raise unreadable(path, error, wanted) from None
    if len(data) > most_bytes:
        raise Unusable(f"{path}: is larger than {most_bytes / 1e6:g} MB; wanted {wanted} within that")
    return data


def open_for_reading(path: str | Path, wanted: str) -> int:
    """A file descriptor of a regular file, as a pipe may never end or never begin; the caller closes it."""
    try:
        if not stat.S_ISREG(os.stat(path).st_mode):
            what = "a folder" if os.path.isdir(path) else "a pipe or a device, not a file"
            raise Unusable(f"{path}: is {what}; wanted {wanted}")
        return os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0))
    except (OSError, ValueError) as error:
        raise unreadable(path, error, wanted) from None


def unreadable(path: str | Path, error: OSError | ValueError, wanted: str) -> Unusable:
    """The sentence for what the operating system said; ValueError is a name that no file can have."""
    said = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return Unusable(f"{path}: cannot be read: {said[:1].lower()}{said[1:]}; wanted {wanted}")
