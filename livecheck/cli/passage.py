"""A passage of a recording: from one second to another."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from livecheck.errors import Unusable

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from livecheck.sources.audio_file import AudioTake

SHORTEST_S = 0.25


def check_passage(path: str, duration_s: float, from_s: float | None, to_s: float | None) -> tuple[float, float]:
    """Where a passage begins and ends. Unusable if it lies outside what lasts so long, or is too short."""
    if duration_s < SHORTEST_S:
        raise Unusable(f"{path}: lasts {duration_s:.3f} s; wanted {SHORTEST_S:g} s at least")
    begin_s = 0.0 if from_s is None else from_s
    end_s = duration_s if to_s is None else to_s
    if not 0.0 <= begin_s <= end_s - SHORTEST_S:
        raise Unusable(f"--from {begin_s:g} and --to {end_s:g}; wanted {SHORTEST_S:g} s at least between them")
    if begin_s > duration_s - SHORTEST_S:
        raise Unusable(f"--from is {begin_s:g} s; {path} ends at {duration_s:.2f} s")
    return begin_s, min(end_s, duration_s)


def passage(
    audio: AudioTake, path: str, from_s: float | None, to_s: float | None
) -> tuple[Iterator[NDArray[np.float32]], float]:
    """The samples of a passage in blocks, and how long it is in seconds."""
    begin_s, end_s = check_passage(path, audio.duration_s, from_s, to_s)
    return _between(audio, round(begin_s * audio.rate_hz), round(end_s * audio.rate_hz)), end_s - begin_s


def _between(audio: AudioTake, first: int, stop: int) -> Iterator[NDArray[np.float32]]:
    at = 0
    for block in audio.blocks:
        part = block[max(0, first - at) : max(0, stop - at)]
        at += len(block)
        if len(part):
            yield part
        if at >= stop:
            return
