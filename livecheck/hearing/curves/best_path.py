"""The best path of one string through the pitches that it may have, frame by frame (Viterbi, "Error bounds for
convolutional codes", IEEE Transactions on Information Theory 1967).

In: evidence for each place of a grid of pitches `STEP_CENTS` apart, shape (frames, places). Out: the place in each
frame. Movement costs in proportion to its size, and has its limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.shifted import shifted

STEP_CENTS = 20
GLIDE_COST = 0.03
"""For each `STEP_CENTS` of movement; a semitone costs what a few frames of evidence are worth."""
FASTEST_STEPS = 6
"""A semitone and a fifth in one frame, twelve frets in a tenth of a second: no bar is faster, so no track may leap
further."""
_COSTS = (GLIDE_COST * np.abs(np.arange(-FASTEST_STEPS, FASTEST_STEPS + 1))).astype(np.float32)


def best_paths(evidence: Sequence[NDArray[np.float32]]) -> list[NDArray[np.int64]]:
    """The best path through each of some evidences, shape (frames,) each.

    What a frame costs is mostly the calls, whatever they are given: evidences go side by side, and each from both its
    ends at once, to the frame in its middle.
    """
    if not evidence:
        return []
    halves = [half for one in evidence for half in (one[: len(one) // 2 + 1], one[::-1][: len(one) - len(one) // 2])]
    laid = _laid([len(half) for half in halves])
    frames, places = max(len(half) for half in halves), max(half.shape[1] for half in halves)
    columns = 1 + max(column for column, _ in laid)
    here = np.full((frames, places, columns), -np.inf, dtype=np.float32)
    for half, (column, first) in zip(halves, laid, strict=True):
        here[first : first + len(half), : half.shape[1], column] = half
    scores = _scores(here, laid)
    inner = scores[:, FASTEST_STEPS : FASTEST_STEPS + places]
    stays = inner[1:] == inner[:-1] + here[1:]
    found = []
    for one, forth, back in zip(evidence, laid[::2], laid[1::2], strict=True):
        middle = len(one) // 2
        meeting = -one[middle]
        ways = []
        for (column, first), last in ((forth, middle), (back, len(one) - 1 - middle)):
            meeting += inner[first + last, : len(meeting), column]
            ways.append((scores[first : first + last + 1, :, column], stays[first : first + last, :, column]))
        place = int(meeting.argmax())
        before, after = (_way(worth, stay, place) for worth, stay in ways)
        found.append(np.concatenate((before, after[-2::-1])))
    return found


def _laid(lengths: Sequence[int]) -> list[tuple[int, int]]:
    """A column and a first frame for each of some lengths, so that they take few columns of the longest one's."""
    taken: list[int] = []
    laid = {}
    for number in sorted(range(len(lengths)), key=lambda i: -lengths[i]):
        room = max(lengths) - lengths[number]
        column = next((i for i, until in enumerate(taken) if until <= room), len(taken))
        taken += [0] * (column == len(taken))
        laid[number] = column, taken[column]
        taken[column] += lengths[number]
    return [laid[number] for number in range(len(lengths))]


def _scores(here: NDArray[np.float32], laid: Sequence[tuple[int, int]]) -> NDArray[np.float32]:
    """What the best way to each place is worth, given what each place is and in which column and frame the ways begin;
    shape (frames, places, columns) -> the same with `FASTEST_STEPS` places to each side that nothing reaches."""
    frames, places, columns = here.shape
    scores = np.empty((frames, places + 2 * FASTEST_STEPS, columns), dtype=np.float32)
    scores[0] = scores[:, :FASTEST_STEPS] = scores[:, -FASTEST_STEPS:] = -np.inf
    inner = scores[:, FASTEST_STEPS : FASTEST_STEPS + places]
    costs = _COSTS[:, None, None]
    reached = np.empty((len(_COSTS), places, columns), dtype=np.float32)
    near = shifted(scores, len(_COSTS))
    for first, stop in pairwise([*sorted({frame for _, frame in laid}), frames]):
        begun = [column for column, frame in laid if frame == first]
        inner[first][:, begun] = here[first][:, begun]
        part = slice(first + 1, stop + 1)
        for before, gained, score in zip(near[first:stop], here[part], inner[part], strict=False):
            np.subtract(before, costs, out=reached)
            np.maximum.reduce(reached, axis=0, out=score)
            np.add(score, gained, out=score)
    return scores


def _way(scores: NDArray[np.float32], stays: NDArray[np.bool_], place: int) -> NDArray[np.int64]:
    """The best way to a place in the last of some frames; `stays`: where the way to a frame's successor comes from the
    same place."""
    way = np.empty(len(scores), dtype=np.int64)
    stop = len(way)
    while stop:
        first = stays[: stop - 1, place].tobytes().rfind(b"\0") + 1
        way[first:stop] = place
        stop = first
        if stop:
            place += int((scores[stop - 1, place : place + len(_COSTS)] - _COSTS).argmax()) - FASTEST_STEPS
    return way
