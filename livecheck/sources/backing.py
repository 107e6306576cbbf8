"""The band that a lesson is played with, from a file: WAV, FLAC, OGG, MP3 or AIFF, at any rate.

In: a path, the rate of the output, how loud. Out: mono float32 samples, the loudest of them as loud as asked for.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from livecheck.errors import Unusable
from livecheck.lesson.figure import Lesson
from livecheck.sources.audio_file import open_audio

LONGEST_S = 30 * 60.0
UNKNOWN_LATENCY = (
    "how long sound takes out of this device and back is not known, so you are judged by how you keep the beat, not by "
    "whether you are with it; livecheck calibrate measures it"
)


class Backing:
    """Read once, played in parts."""

    def __init__(self, path: str, rate_hz: int, level_db: float) -> None:
        """Unusable if it cannot be read."""
        import soxr

        audio = open_audio(path, longest_s=LONGEST_S)
        whole = np.concatenate(list(audio.blocks))
        if audio.rate_hz != rate_hz:
            whole = soxr.resample(whole, audio.rate_hz, rate_hz)
        loudest = float(np.abs(whole).max())
        self.samples: NDArray[np.float32] = (whole * np.float32(10.0 ** (level_db / 20.0) / loudest)).astype(np.float32)
        self._rate_hz = rate_hz

    def part(self, from_s: float, long_s: float) -> NDArray[np.float32]:
        """From a moment of the file on, so long; silence where it has not begun yet, and where it has ended."""
        first, count = round(from_s * self._rate_hz), round(long_s * self._rate_hz)
        out = np.zeros(max(count, 1), dtype=np.float32)
        inside = self.samples[max(first, 0) : max(first + count, 0)]
        at = max(-first, 0)
        out[at : at + len(inside)] = inside[: len(out) - at]
        return out


def backing_path(lesson: Lesson, lesson_path: str) -> str:
    """Where a lesson's backing is. Unusable if it has none."""
    if lesson.backing is None:
        raise Unusable(f'{lesson_path}: has no backing; wanted backing = "FILE", and in each figure backing_at')
    return str(Path(lesson_path).parent / lesson.backing)
