"""What is to be played, laid on the frames of a stream. Used in the driver process only.

In: `Sound`, mono, from any thread. Out: the next frames, the same on all channels, float32 as bytes, full scale 1;
silence where there is none.
"""

from __future__ import annotations

import threading

import numpy as np

from livecheck.sources.driver_message import Sound

FADE_FRAMES = 480


class Mixer:
    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._frame = 0
        self._waiting: list[tuple[int, np.ndarray[tuple[int], np.dtype[np.float32]]]] = []
        self._unbegun = 0

    def add(self, sound: Sound) -> None:
        with self._lock:
            self._unbegun += sound.at == 0
            self._waiting.append((max(sound.at, self._frame), np.frombuffer(sound.samples, dtype=np.float32)))

    def hush(self) -> None:
        """Play nothing of what is waiting any more; what sounds fades within `FADE_FRAMES`."""
        with self._lock:
            sounding = []
            for at, samples in self._waiting:
                rest = samples[max(self._frame - at, 0) :][:FADE_FRAMES] if at < self._frame else samples[:0]
                if len(rest):
                    sounding.append((self._frame, rest * np.linspace(1.0, 0.0, len(rest), dtype=np.float32)))
            self._waiting = sounding

    def begins(self) -> bool:
        """Whether the frames that are asked for next are the first of a sound that was to be played at once."""
        with self._lock:
            begins, self._unbegun = self._unbegun > 0, 0
        return begins

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
