"""Short-time magnitude spectra.

A frame is centred on its time: frame i covers `window` samples around `start + i * hop`. Hann window, scaled so that a
steady sine of amplitude a gives a peak of a; a constant is no sound. Rows are computed one by one, so a frame is the
same in whatever batch it is computed.
"""

from __future__ import annotations

from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ

AT_ONCE = 1 << 16
"""Samples transformed at once: what they become stays in a processor's cache."""


@lru_cache(maxsize=8)
def hann(size: int) -> NDArray[np.float32]:
    """A periodic Hann window whose mean is 2: sines come out at their amplitude."""
    window = 0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(size) / size)
    return np.asarray(window * 2.0 / window.mean(), dtype=np.float32)


class Spectrogram:
    """Magnitudes of a stretch of a take, shape (frames, window // 2 + 1), frame i at `start_s + i * hop_s`."""

    def __init__(self, magnitudes: NDArray[np.float32], start_s: float, hop_s: float, bin_hz: float) -> None:
        self._rows = magnitudes
        self.start_s = start_s
        self.hop_s = hop_s
        self.bin_hz = bin_hz

    def __len__(self) -> int:
        return len(self._rows)

    def rows(self, first: int, stop: int) -> NDArray[np.float32]:
        """The magnitudes of frames first to stop, which lie within what there is; shape (stop - first, bins)."""
        return self._rows[first:stop]

    def row(self, frame: int) -> NDArray[np.float32]:
        """The magnitudes of one frame, shape (bins,)."""
        return self.rows(frame, frame + 1).reshape(-1)

    @property
    def first(self) -> int:
        """Which frame of the whole take its first one is."""
        return round(self.start_s / self.hop_s)

    @property
    def magnitudes(self) -> NDArray[np.float32]:
        """Those of all frames, shape (frames, bins)."""
        return self.rows(0, len(self))

    def frame_at(self, time_s: float) -> int:
        """The frame nearest to a time, kept within what there is."""
        return min(max(round((time_s - self.start_s) / self.hop_s), 0), len(self) - 1)

    def span(self, start_s: float, stop_s: float) -> tuple[int, int]:
        """The frames from one time up to another as (first, stop): two at least, all within what there is."""
        first = min(self.frame_at(start_s), len(self) - 2)
        return first, max(first + 2, self.frame_at(stop_s))

    @cached_property
    def times_s(self) -> NDArray[np.float64]:
        return self.start_s + self.hop_s * np.arange(len(self), dtype=np.float64)


class _AsAsked(Spectrogram):
    """One of which only what is asked for is worked out, once."""

    def __init__(self, recording: Recording, first: int, count: int, window: int, hop: int) -> None:
        """`first`: the sample on which the first of so many frames is centred."""
        rows = np.empty((count, window // 2 + 1), dtype=np.float32)
        super().__init__(rows, first / WORK_RATE_HZ, hop / WORK_RATE_HZ, WORK_RATE_HZ / window)
        self._recording = recording
        self._begin = first - window // 2
        self._window = window
        self._hop = hop
        self._known = np.zeros(count, dtype=bool)

    def rows(self, first: int, stop: int) -> NDArray[np.float32]:
        known = self._known[first:stop]
        if not known.all():
            unknown = np.flatnonzero(~known)
            low, high = first + int(unknown[0]), first + int(unknown[-1]) + 1
            start = self._begin + low * self._hop
            samples = self._recording.slice(start, start + self._window + (high - 1 - low) * self._hop)
            magnitudes_of(samples, self._window, self._hop, self._rows[low:high])
            self._known[low:high] = True
        return super().rows(first, stop)


def magnitudes_of(
    samples: NDArray[np.float32],
    window: int,
    hop: int,
    out: NDArray[np.float32] | None = None,
) -> NDArray[np.float32]:
    """Spectra of consecutive frames, the first covering samples[0:window]; shape (frames, window // 2 + 1). `out`:
    where to put them."""
    if len(samples) < window:
        return np.empty((0, window // 2 + 1), dtype=np.float32)
    samples = np.ascontiguousarray(samples, dtype=np.float32)
    size = samples.itemsize
    frames = np.ndarray(
        ((len(samples) - window) // hop + 1, window), samples.dtype, samples, strides=(hop * size, size)
    )
    found = np.empty((len(frames), window // 2 + 1), dtype=np.float32) if out is None else out
    together = max(1, AT_ONCE // window)
    for first in range(0, len(frames), together):
        part = frames[first : first + together]
        shaped = part - np.add.reduce(part, axis=1, keepdims=True) / np.float32(window)
        shaped *= hann(window)
        # By the mean, or numpy takes the whole factor 1 for a reason to transform in double precision.
        turned = np.fft.rfft(shaped, axis=1, norm="forward")
        np.abs(turned, out=found[first : first + together])
    return found


def loudest_near(magnitudes: NDArray[np.float32], tones_hz: NDArray[np.float64], bin_hz: float) -> NDArray[np.float32]:
    """The largest magnitude within a bin of each of some tones, in one or more spectra: magnitudes of shape (..., bins)
    and tones of any shape give (..., tones)."""
    at = np.rint(tones_hz / bin_hz).astype(int).clip(1, magnitudes.shape[-1] - 2)
    beside = np.maximum(magnitudes[..., at - 1], magnitudes[..., at])
    return np.asarray(np.maximum(beside, magnitudes[..., at + 1]))


def spectrogram(recording: Recording, start_s: float, stop_s: float, window: int, hop: int) -> Spectrogram:
    """Spectra of a stretch of the take; frame centres run from start_s to stop_s on a grid of whole hops."""
    first = round(start_s * WORK_RATE_HZ / hop) * hop
    count = max(1, round((stop_s * WORK_RATE_HZ - first) / hop) + 1)
    return _AsAsked(recording, first, count, window, hop)
