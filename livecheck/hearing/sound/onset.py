"""When new sound begins: attacks, told from slides by how much of a short spectrum rises at once.

Spectral flux on square-rooted magnitudes, as a share of what sounds (Bello et al., "A tutorial on onset detection in
music signals", IEEE TSAP 2005); the moment itself is read from the waveform.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.median import median
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.spectrum import magnitudes_of

WINDOW = 512
HOP = 64
BACK_FRAMES = 4
"""The rise is taken against the frame so many hops earlier (10.7 ms)."""
LOW_BIN = 3
"""Below (140 Hz) a short window tells nothing."""
FAINTEST = np.float32(0.3)
"""What the sum of a frame's square roots is taken to have reached before anything sounded: faint hiss."""
CHUNK = 256
LEAST_RISE = 0.12
APART_S = 0.03
START_SHARE = 0.15
FAINT_SHARE = np.float32(0.1)
"""A rise counts in proportion where the whole frame stays below this share of the loudest one so far."""


@dataclass(frozen=True)
class Onset:
    time_s: float
    rise: float
    """Share of the spectrum that is new, 0 to 1."""


def rises(recording: Recording) -> NDArray[np.float32]:
    """Relative spectral rise of the whole take, frame i centred on sample i * HOP; shape (frames,)."""
    frames = len(recording) // HOP
    found = np.zeros(frames, dtype=np.float32)
    loudest = FAINTEST
    for first in range(0, frames, CHUNK):
        stop = min(first + CHUNK, frames)
        start = (first - BACK_FRAMES) * HOP - WINDOW // 2
        count = stop - first + BACK_FRAMES
        root = np.sqrt(
            magnitudes_of(recording.slice(start, start + (count - 1) * HOP + WINDOW), WINDOW, HOP)[:, LOW_BIN:]
        )
        new = np.maximum(root[BACK_FRAMES:] - root[:-BACK_FRAMES], 0.0).sum(axis=1)
        total = root[BACK_FRAMES:].sum(axis=1)
        running = np.maximum.accumulate(np.maximum(total, loudest))
        loudest = running[-1]
        found[first:stop] = new / (total + FAINT_SHARE * running)
    return found


def onsets(recording: Recording) -> list[Onset]:
    """All onsets of a take, in order."""
    rise = rises(recording)
    apart = round(APART_S * WORK_RATE_HZ / HOP)
    found: list[Onset] = []
    last = -apart
    for frame in np.flatnonzero(rise >= LEAST_RISE):
        near = rise[max(0, frame - apart) : frame + apart + 1]
        if rise[frame] < near.max() or frame - last < apart:
            continue
        last = int(frame)
        found.append(Onset(_begin_s(recording, last * HOP), float(rise[frame])))
    return found


def _begin_s(recording: Recording, about: int) -> float:
    """The moment at which the waveform starts to grow, near a sample number."""
    before, after, smooth = round(0.035 * WORK_RATE_HZ), round(0.02 * WORK_RATE_HZ), round(0.0015 * WORK_RATE_HZ)
    start = about - before - smooth
    edge = np.abs(np.diff(recording.slice(start, about + after + 1))).astype(np.float64)
    envelope = np.convolve(edge, np.ones(smooth) / smooth, mode="valid")
    base = median(envelope[: before // 2])
    top_at = before // 2 + int(np.argmax(envelope[before // 2 :]))
    level = base + START_SHARE * (float(envelope[top_at]) - base)
    below = np.flatnonzero(envelope[: top_at + 1] < level)
    at = int(below[-1]) + 1 if len(below) else top_at
    return (start + smooth + at) / WORK_RATE_HZ
