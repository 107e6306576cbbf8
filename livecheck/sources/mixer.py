"""What is to be played, laid on the frames of a stream. Used in the driver process only.

In: `Sound`, mono, from any thread. Out: the next frames, the same on all channels, float32 as bytes, full scale 1;
silence where there is none.
"""

from __future__ import annotations

import threading

import numpy as np

from livecheck.sources.driver_message import Sound


class Mixer:
    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._frame = 0
        self._waiting: list[tuple[int, np.ndarray[tuple[int], np.dtype[np.float32]]]] = []

    def add(self, sound: Sound) -> None:
        with self._lock:
            self._waiting.append((max(sound.at, self._frame), np.frombuffer(sound.samples, dtype=np.float32)))

    def next(self, frames: int, channels: int) -> bytes:
        """The next frames of the stream; those of its first call are frame 0 on."""
        out = np.zeros(frames, dtype=np.float32)
        with self._lock:
            first, self._frame = self._frame, self._frame + frames
            for at, samples in self._waiting:
                low, high = max(at, first), min(at + len(samples), self._frame)
                if low < high:
                    out[low - first : high - first] += samples[low - at : high - at]
            self._waiting = [(at, samples) for at, samples in self._waiting if at + len(samples) > self._frame]
        return np.repeat(np.clip(out, -1.0, 1.0), channels).tobytes()
