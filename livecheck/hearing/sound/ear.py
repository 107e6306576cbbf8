"""The ear for audio: fed samples, it keeps the take and gives coarse observations when it is asked for them.

One observation every `HOP` samples of the working rate: which pitches stand out, how much new sound began, whether
anything sounds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.recording import PutAway, Recording, in_memory
from livecheck.hearing.sound.resample import Resampler
from livecheck.hearing.sound.salience import HOP, HOP_S, STEPS_A_SEMITONE, WINDOW, compressed, salience
from livecheck.hearing.sound.spectrum import magnitudes_of

QUIET_DB = -45.0
"""Below the loudest moment so far: nothing sounds."""
NOISE_SHARE, TONE_SHARE = np.float32(0.02), np.float32(0.06)
"""How much of a frame the strongest harmonic sum holds: hiss stays below the first, strings lie above the second."""
NEAR_CENTS = 40
_NEAR = NEAR_CENTS * STEPS_A_SEMITONE // 100
LEAST_FRAMES = 64
"""Frames that wait for each other (a good second): one by one they cost three times as much."""
MOST_FRAMES = 256
"""Frames computed at once, to bound memory; it changes nothing in the result."""


@dataclass(frozen=True)
class Glance:
    """Coarse observations, frame i of the take at (first + i) * HOP / WORK_RATE_HZ seconds."""

    contrast: NDArray[np.float32]
    """How strongly each pitch of the grid stands out beside the strongest, 0 to 1; shape (frames, grid)."""
    purity: NDArray[np.float32]
    """Share of all sound that the strongest pitch accounts for; shape (frames,)."""
    onset: NDArray[np.float32]
    """How much of the spectrum is new, 0 to 1; shape (frames,)."""
    loud: NDArray[np.float32]
    """1 where anything with a pitch sounds, 0 in silence and hiss; shape (frames,)."""


class AudioEar:
    """Samples of one channel in, glances out; `recording` is the take at the working rate."""

    def __init__(self, rate_hz: int, least_frames: int = LEAST_FRAMES, put_away: PutAway = in_memory) -> None:
        """`least_frames`: how many observations come at once at least; `put_away`: where the recording lies. Neither
        changes anything in them."""
        self._least_frames = least_frames
        self._resampler = Resampler(rate_hz)
        self.recording = Recording(put_away)
        self._gaze = _Gaze(self.recording, 0, np.float32(1e-5))
        self._is_whole = False

    def feed(self, samples: NDArray[np.float32]) -> None:
        """Take in samples."""
        self.recording.append(self._resampler.feed(samples))

    def finish(self) -> None:
        """That was all of the take."""
        self.recording.append(self._resampler.finish())
        self._is_whole = True

    def glances(self) -> Iterator[Glance]:
        """Those that became due since this was asked last; frames that reach beyond the end of a take that is whole see
        silence there."""
        if self._is_whole:
            return self._gaze.until(len(self.recording) // HOP + 1, 1)
        return self._gaze.until((len(self.recording) - WINDOW // 2) // HOP + 1, self._least_frames)

    def again(self, from_s: float, until_s: float) -> Iterator[Glance]:
        """The glances of a part of the finished take once more, the first at `from_s` or just before it.

        What is quiet is told by the loudest moment of all glances so far.
        """
        first = int(max(from_s, 0.0) / HOP_S)
        last = int(min(max(until_s, 0.0), self.recording.duration_s) / HOP_S) + 1
        return _Gaze(self.recording, first, self._gaze.loudest).until(last, 1)


class _Gaze:
    """Goes through a recording frame by frame."""

    def __init__(self, recording: Recording, first: int, loudest: np.float32) -> None:
        self._recording = recording
        self._frames = first
        self.loudest = loudest
        self._last: NDArray[np.float32] | None = None

    def until(self, stop: int, least: int) -> Iterator[Glance]:
        """The frames not yet seen before `stop`, if there are so many at least."""
        while (ready := stop - self._frames) >= least:
            count = min(ready, MOST_FRAMES)
            start = self._frames * HOP - WINDOW // 2
            yield self._glance(self._recording.slice(start, start + (count - 1) * HOP + WINDOW))
            self._frames += count

    def _glance(self, samples: NDArray[np.float32]) -> Glance:
        magnitudes = magnitudes_of(samples, WINDOW, HOP)
        level = np.sqrt((magnitudes * magnitudes).sum(axis=1))
        loudest = np.maximum.accumulate(np.maximum(level, self.loudest))
        self.loudest = loudest[-1]
        loud = (level > loudest * np.float32(10.0 ** (QUIET_DB / 20.0))).astype(np.float32)
        clean = compressed(magnitudes)
        before = np.concatenate((clean[:1] if self._last is None else self._last, clean[:-1]))
        self._last = clean[-1:].copy()
        total = clean.sum(axis=1)
        rows = salience(clean)
        purity = rows.max(axis=1) / np.maximum(total, np.float32(1e-9))
        tonal = (purity - NOISE_SHARE) / (TONE_SHARE - NOISE_SHARE)
        loud = loud * np.clip(tonal, 0.0, 1.0).astype(np.float32)
        onset = np.maximum(clean - before, 0.0).sum(axis=1) / np.maximum(total, np.float32(1e-9)) * loud
        return Glance(contrast_of(rows), purity, onset, loud)


def contrast_of(rows: NDArray[np.float32]) -> NDArray[np.float32]:
    """Salience over its frame's maximum, the best within `NEAR_CENTS`; same shape, 0 to 1."""
    peak = rows.max(axis=1, keepdims=True)
    around = np.zeros((len(rows), rows.shape[1] + 2 * _NEAR), dtype=np.float32)
    around[:, _NEAR:-_NEAR] = rows
    near, width = around, 1
    while width <= _NEAR:
        near = np.maximum(near[:, :-width], near[:, width:])
        width *= 2
    near = np.maximum(near[:, : rows.shape[1]], near[:, -rows.shape[1] :])
    near /= np.maximum(peak, np.float32(1e-12))
    return near
