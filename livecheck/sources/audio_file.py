"""Audio files as mono blocks.

A file is read twice. First it is surveyed: that it can be read, is long enough, sounds, has no samples that are not
numbers, and which channels are worth hearing. Then its samples are given out, float32, full scale 1.

Of several channels the mean is taken, unless it is more than 4.5 dB weaker than the strongest channel alone, which is
then taken instead. So two microphones, or the two sides of a stereo recording, are mixed, while a silent channel beside
the instrument's, or a copy of it in opposite polarity, does no harm. `channel` overrides this.

What a file is, its content says, not its name.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass

import numpy as np
import soundfile
from numpy.typing import NDArray

from livecheck.errors import Unusable
from livecheck.sources.file import open_for_reading

WANTED = "audio (WAV, FLAC, OGG, MP3 or AIFF)"
BLOCK_FRAMES = 8192
"""What is lost at most where a damaged file breaks off."""
MISSING_FRAMES = 4096
"""A file that has more than so many less than its header promises breaks off: whole ones may be a little out."""
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8_000, 192_000
SHORTEST_S = 0.25
LONGEST_S = 3 * 3600.0
MOST_SAMPLES = 4_200_000_000
"""Of all channels together: three hours of stereo at 192 kHz. More channels must be shorter: a small file can hold
hours of silence in hundreds of them, which only costs time to unpack."""
SILENT_PEAK = 1e-4
"""-80 dB under full scale: the last bits of a 16-bit recording."""
LOUDEST_PEAK = 10.0
"""Beyond it a file of floating-point samples is not scaled to full scale 1, and is brought down to it."""
WILD_PEAK = 1000.0
"""Where a few samples are beyond it and the rest is not beyond `LOUDEST_PEAK`, these are damage, not another scale: to
bring them down would make the rest silent."""
LEAST_OF_STRONGEST = 10.0 ** (-4.5 / 10.0)
"""Between two unrelated channels of the same strength (-3 dB) and one of two dead (-6 dB)."""

MOST_UNREAD = 0.05
"""Share of an MP3 file that may be left over at its end: tags."""

_PROMISE = re.compile(r"^(?:data|\s*SSND) *: (\d+) \(should be (\d+)\)", re.MULTILINE)
"""How libsndfile's log tells a chunk of sound that is longer than the file."""
_UNKNOWN_BYTES = 0x7FFF_0000
"""Writers that cannot go back to fill in the length leave a number near 2 or 4 GiB."""
_UNKNOWN_FRAMES = 2**63 - 1
"""libsndfile's word for a FLAC file that does not tell its length: one that is, or was, still being written."""


@dataclass(frozen=True)
class AudioTake:
    """A surveyed take, ready to be heard."""

    rate_hz: int
    blocks: Iterator[NDArray[np.float32]]
    """Mono, in order, shape (frames,), of any size; to be gone through once."""
    duration_s: float
    notes: tuple[str, ...] = ()
    """What the player should know, one sentence each, without the path: that not all of the take is there."""


def open_audio(path: str, channel: int | None = None, longest_s: float = LONGEST_S) -> AudioTake:
    """A take from a file; `channel` counts from 1. Unusable if there is nothing in it that could be judged, or more
    than `longest_s`: by what its header says, before anything is unpacked, and by what is unpacked, as headers lie."""
    with _sound(path) as sound:
        rate_hz, channels = sound.samplerate, sound.channels
        if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
            raise Unusable(f"{path}: is sampled at {rate_hz} Hz; wanted {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz")
        if channel is not None and channel > channels:
            raise Unusable(f"{path}: has {channels} channel{'s' if channels > 1 else ''}; wanted channel {channel}")
        promised_s = 0.0 if sound.frames == _UNKNOWN_FRAMES else sound.frames / rate_hz
        if promised_s > longest_s:
            raise _too_long(path, longest_s)
        if promised_s * rate_hz * channels > MOST_SAMPLES:
            raise _too_many(path, channels)
        survey = _Survey(path, rate_hz, channels, channel, longest_s)
        for block in _blocks(sound):
            survey.feed(block)
        promised, unread = _promised_frames(sound), _unread_share(sound)
    survey.check()
    there = f"{survey.duration_s:.2f} s"
    notes: tuple[str, ...] = ()
    if survey.frames < promised - MISSING_FRAMES:
        notes = (f"the file breaks off: it promises {promised / rate_hz:.2f} s, only {there} can be read",)
    elif unread > MOST_UNREAD:
        notes = (f"only its first {there} can be read: it does not tell its length; save it as WAV or FLAC",)
    return AudioTake(rate_hz, _mono(path, survey.taken, survey.gain), survey.duration_s, notes)


class _Survey:
    """One pass over all samples."""

    def __init__(self, path: str, rate_hz: int, channels: int, channel: int | None, longest_s: float) -> None:
        self._path = path
        self._rate_hz = rate_hz
        self._channels = channels
        self._longest_s = longest_s
        self._channel = channel
        self._used = slice(None) if channel is None else slice(channel - 1, channel)
        self._peak = 0.0
        self._peak_at = (0, 0)
        """Frame and index of the channel."""
        self._loud_frames = 0
        self._sums = np.zeros(channels + 1)
        self._squares = np.zeros(channels + 1)
        self._highest = np.full(channels + 1, -np.inf)
        self._lowest = np.full(channels + 1, np.inf)
        self.frames = 0

    @property
    def duration_s(self) -> float:
        return self.frames / self._rate_hz

    def feed(self, block: NDArray[np.float32]) -> None:
        """Samples of shape (frames, channels)."""
        finite = self._finite(block)
        self._weigh(np.abs(finite[:, self._used]))
        channels = finite.T.astype(np.float64, order="C")
        # The mean of one channel is that channel.
        rows = channels if len(channels) == 1 else np.vstack((channels, channels.mean(axis=0)))
        self._sums += rows.sum(axis=1)
        self._squares += np.einsum("ij,ij->i", rows, rows)
        np.maximum(self._highest, rows.max(axis=1), out=self._highest)
        np.minimum(self._lowest, rows.min(axis=1), out=self._lowest)
        self.frames += len(block)
        if self.duration_s > self._longest_s:
            raise _too_long(self._path, self._longest_s)
        if self.frames * self._channels > MOST_SAMPLES:
            raise _too_many(self._path, self._channels)

    def _finite(self, block: NDArray[np.float32]) -> NDArray[np.float32]:
        """The samples, with nothing in place of what is no number in channels that are not to be heard."""
        bad = ~np.isfinite(block)
        if not bad.any():
            return block
        if bad[:, self._used].any():
            frame, column = np.argwhere(bad[:, self._used])[0] + (0, self._used.start or 0)
            what = "not a number" if np.isnan(block[frame, column]) else "infinite"
            where = self._place(self.frames + int(frame), int(column))
            raise Unusable(f"{self._path}: {where} is {what}; wanted finite samples")
        return np.where(bad, np.float32(0.0), block)

    def _weigh(self, sizes: NDArray[np.float32]) -> None:
        """Take in how large the samples of the channels to be heard are."""
        peak = float(sizes.max())
        if peak > LOUDEST_PEAK:
            self._loud_frames += int((sizes > LOUDEST_PEAK).any(axis=1).sum())
        if peak > self._peak:
            frame, column = np.unravel_index(np.argmax(sizes), sizes.shape)
            self._peak = peak
            self._peak_at = (self.frames + int(frame), int(column) + (self._used.start or 0))

    def _place(self, frame: int, column: int) -> str:
        return f"sample {frame + 1} of channel {column + 1} ({frame / self._rate_hz:.3f} s)"

    @property
    def taken(self) -> int | None:
        """The index of the channel to hear, or None for the mean of all."""
        if self._channel is not None:
            return self._channel - 1
        power = self._squares - self._sums**2 / self.frames
        strongest = int(np.argmax(power[:-1]))
        return None if power[-1] >= LEAST_OF_STRONGEST * power[strongest] else strongest

    @property
    def gain(self) -> float:
        return 1.0 / self._peak if self._peak > LOUDEST_PEAK else 1.0

    def check(self) -> None:
        """Unusable if there is too little to hear."""
        if self.frames == 0:
            raise Unusable(f"{self._path}: has no sound in it that can be read; wanted a take")
        if self.duration_s < SHORTEST_S:
            raise Unusable(f"{self._path}: lasts {self.duration_s:.3f} s; wanted {SHORTEST_S:g} s at least")
        if self._peak > WILD_PEAK and self._loud_frames < SHORTEST_S * self._rate_hz:
            what = f"is {self._peak:.3g} times full scale, which no recorder writes: the file is damaged"
            raise Unusable(f"{self._path}: {self._place(*self._peak_at)} {what}; wanted samples within full scale")
        sounds = (self._highest - self._lowest) / 2.0 >= SILENT_PEAK
        if not sounds[:-1].any():
            raise Unusable(f"{self._path}: is silent, nothing was heard; wanted a take")
        if self._channel is not None and not sounds[self._channel - 1]:
            others = ", ".join(str(index + 1) for index in np.flatnonzero(sounds[:-1])[:8])
            raise Unusable(f"{self._path}: channel {self._channel} is silent; wanted one that sounds: {others}")


def _too_long(path: str, longest_s: float) -> Unusable:
    limit = f"{longest_s / 60.0:g} minutes" if longest_s < 2 * 3600.0 else f"{longest_s / 3600.0:g} hours"
    return Unusable(f"{path}: is longer than {limit}; wanted a take within that")


def _too_many(path: str, channels: int) -> Unusable:
    return Unusable(
        f"{path}: unpacks to more than {MOST_SAMPLES / 1e6:.0f} million samples in {channels} channels; wanted a take "
        "within that"
    )


def _mono(path: str, taken: int | None, gain: float) -> Iterator[NDArray[np.float32]]:
    with _sound(path) as sound:
        for block in _blocks(sound):
            channels = np.ascontiguousarray(block.T if taken is None else block.T[taken : taken + 1])
            if gain != 1.0:
                channels *= np.float32(gain)
            yield channels[0] if len(channels) == 1 else channels.mean(axis=0, dtype=np.float32)


class _Stream(soundfile.SoundFile):  # type: ignore[misc] # soundfile has no types
    """A file read from its start to its end.

    In a file that it takes for seekable soundfile seeks after every block, and a seek breaks the sound of an MP3: the
    decoder loses what the frames before have left for the next ones.
    """

    def seekable(self) -> bool:
        return False


@contextmanager
def _sound(path: str) -> Iterator[_Stream]:
    descriptor = open_for_reading(path, WANTED)
    try:
        with _hushed():
            sound = _Stream(descriptor)
    except soundfile.LibsndfileError:
        what = "is empty" if os.path.getsize(path) == 0 else "is not audio that can be read, or is damaged"
        raise Unusable(f"{path}: {what}; wanted {WANTED}") from None
    try:
        yield sound
    finally:
        with _hushed():
            sound.close()


def _blocks(sound: _Stream) -> Iterator[NDArray[np.float32]]:
    """All that can be read, shape (frames, channels) each; a damaged file ends where it breaks off."""
    while True:
        try:
            with _hushed() if sound.format == "MP3" else nullcontext():
                block = sound.read(BLOCK_FRAMES, dtype="float32", always_2d=True)
        except soundfile.LibsndfileError:
            return
        if not len(block):
            return
        yield block


def _promised_frames(sound: _Stream) -> int:
    """How many frames the header promises. Of a cut WAV or AIFF file libsndfile counts what is there, and logs both."""
    if sound.frames == _UNKNOWN_FRAMES:
        return 0
    said = _PROMISE.search(sound.extra_info)
    if said is None or int(said[1]) >= _UNKNOWN_BYTES:
        return int(sound.frames)
    return int(sound.frames) * int(said[1]) // max(int(said[2]), 1)


def _unread_share(sound: _Stream) -> float:
    """How much of an MP3 file was left when its sound seemed to end.

    If its header does not tell its length, libsndfile guesses it from the first part and reads no further.
    """
    if sound.format != "MP3":
        return 0.0
    descriptor = sound.name
    return 1.0 - os.lseek(descriptor, 0, os.SEEK_CUR) / os.fstat(descriptor).st_size


@contextmanager
def _hushed() -> Iterator[None]:
    """Keeps what the MP3 decoder writes straight to the terminal's error output away from it."""
    if sys.stderr is None:
        yield
        return
    sys.stderr.flush()
    kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
