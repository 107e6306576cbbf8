"""The best path of one string through the pitches that it may have, frame by frame (Viterbi, "Error bounds for
convolutional codes", IEEE Transactions on Information Theory 1967).

In: evidence for each place of a grid of pitches `STEP_CENTS` apart, shape (frames, places). Out: the place in each
frame. Movement costs in proportion to its size, and has its limit.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

STEP_CENTS = 20
GLIDE_COST = 0.03
"""For each `STEP_CENTS` of movement; a semitone costs what a few frames of evidence are worth."""
FASTEST_STEPS = 6
"""A semitone and a fifth in one frame, twelve frets in a tenth of a second: no bar is faster, so no track may leap
further."""
_COSTS = (GLIDE_COST * np.abs(np.arange(-FASTEST_STEPS, FASTEST_STEPS + 1))).astype(np.float32)


def best_paths(evidence: Sequence[NDArray[np.float32]]) -> list[NDArray[np.int64]]:
    """The best path through each of some evidences, shape (frames,) each.

    What a frame costs is mostly the calls, whatever they are given: all evidences go side by side, and each from both
    its ends at once, to the frame in its middle.
    """
    if not evidence:
        return []
    halves = [half for one in evidence for half in (one[: len(one) // 2 + 1], one[::-1][: len(one) - len(one) // 2])]
    frames, places = max(len(half) for half in halves), max(half.shape[1] for half in halves)
    here = np.full((frames, places, len(halves)), -np.inf, dtype=np.float32)
    for column, half in enumerate(halves):
        here[: len(half), : half.shape[1], column] = half
    scores = _scores(here)
    inner = scores[:, FASTEST_STEPS : FASTEST_STEPS + places]
    stays = inner[1:] == inner[:-1] + here[1:]
    found = []
    for one, forth, back in zip(evidence, range(0, len(halves), 2), range(1, len(halves), 2), strict=True):
        frames, places = len(one) // 2 + 1, one.shape[1]
        left = len(one) - frames + 1
        meeting = inner[frames - 1, :places, forth] + inner[left - 1, :places, back] - one[frames - 1]
        place = int(meeting.argmax())
        first = _way(scores[:frames, :, forth], stays[:, :, forth], place)
        last = _way(scores[:left, :, back], stays[:, :, back], place)
        found.append(np.concatenate((first, last[-2::-1])))
    return found


def _scores(here: NDArray[np.float32]) -> NDArray[np.float32]:
    """What the best way to each place is worth, given what each place is; shape (frames, places, n) -> the same with
    `FASTEST_STEPS` places to each side that nothing reaches."""
    frames, places, count = here.shape
    scores = np.full((frames, places + 2 * FASTEST_STEPS, count), -np.inf, dtype=np.float32)
    inner = scores[:, FASTEST_STEPS : FASTEST_STEPS + places]
    inner[0] = here[0]
    costs = _COSTS[:, None, None]
    reached = np.empty((len(_COSTS), places, count), dtype=np.float32)
    near = np.moveaxis(sliding_window_view(scores, places, axis=1), 3, 2)
    for before, gained, score in zip(near, here[1:], inner[1:], strict=False):
        np.subtract(before, costs, out=reached)
        np.maximum.reduce(reached, axis=0, out=score)
        np.add(score, gained, out=score)
    return scores


def _way(scores: NDArray[np.float32], stays: NDArray[np.bool_], place: int) -> NDArray[np.int64]:
    """The best way to a place in the last of some frames; `stays`: where it comes from the same place."""
    way = np.empty(len(scores), dtype=np.int64)
    stop = len(way)
    while stop:
        moved = np.flatnonzero(~stays[: stop - 1, place])
        first = int(moved[-1]) + 1 if len(moved) else 0
        way[first:stop] = place
        stop = first
        if stop:
            place += int((scores[stop - 1, place : place + len(_COSTS)] - _COSTS).argmax()) - FASTEST_STEPS
    return way
