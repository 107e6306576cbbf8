"""Which kind of take a file holds, by its content: known at once, before anything that reads either kind is loaded."""

from __future__ import annotations

import os

from livecheck.sources.file import open_for_reading, unreadable

MARK = b"MThd"
TAKE = "a take: audio (WAV, FLAC, OGG, MP3, AIFF) or a Standard MIDI File"


def is_midi(path: str) -> bool:
    """Whether a file's content says that it is a Standard MIDI File."""
    descriptor = open_for_reading(path, TAKE)
    try:
        return os.read(descriptor, len(MARK)) == MARK
    except OSError as error:
        raise unreadable(path, error, TAKE) from None
    finally:
        os.close(descriptor)
