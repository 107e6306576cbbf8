"""Where a gliding string comes to rest: a pitch curve in, the pitches that were held out.

Pitches lie a whole number of half semitones from the one that was picked (half-pedals give the odd ones), give or take
what tempering and hands add. The best staircase of such steps is found by dynamic programming (each step costs what
some hundredth seconds of misfit cost, so that a glide through several semitones is one move and no scale), then each
move is timed on the curve itself, once more with its vibrato taken off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from livecheck.drafting.line import Rest
from livecheck.hearing.heard import GRID_S
from livecheck.judging.verdicts.glide import HIGH, glide_of
from livecheck.judging.verdicts.vibrato import vibrato_of

FARTHEST, STAIR = 14, 0.5
"""Semitones up and down that one pick may be taken."""
MOST_MISFIT = 0.6
"""Semitones: what lies further off fits no worse."""
MOVE_COST = 4.0 * 0.0107
"""Semitones times seconds of misfit."""
LEAST_S = 0.06
"""What is held for less time was only passed."""
NEAR, LEAST_SHARE = 0.2, 0.5
"""Semitones. Of a glide that passes through, two fifths are so near to the middle of a step."""
GLIDES_FROM = 0.1
MOST_OFF = 0.22
"""Semitones, root mean square: so near to a single glide nothing was held on the way."""
WIDE_MOVE = 2.0
"""Semitones: of a glide that goes less far as large a share, and so fewer semitones."""
LEAST_MOVE = 0.4
SMALL_MOVE, SMALL_LEAST_S = 0.8, 0.26
"""Before and after a move so small the pitch has to be held for longer, as it wavers as far where a string is struck or
dies away."""
SETTLING_S = 0.05
ARRIVING_S = 0.1
"""A glide has ended so soon after the string first came near to where it rests."""
VIBRATO_CENTS = 5.0


def rests_of(times_s: NDArray[np.float64], midis: NDArray[np.float64], start_s: float, blur_s: float) -> list[Rest]:
    """The pitches held on a curve sampled every `GRID_S`; `blur_s` is how far it smears."""
    if not len(midis):
        return []
    first = float(np.median(midis[: max(1, round(0.1 / GRID_S))]))
    stairs = _staircase(midis - first)
    edges = [0, *(np.flatnonzero(np.diff(stairs)) + 1).tolist(), len(stairs)]
    spans = [held for span in pairwise(edges) if (held := _held(span, midis)) is not None]
    spans = _without_wavers(_without_passed(spans, midis), midis)
    wavers = [_has_vibrato(midis[slice(*span)]) for span in spans]
    rests = _timed(spans, wavers, times_s, midis, start_s, blur_s)
    wave = vibrato_of(100.0 * (midis - _straight(rests, times_s)), GRID_S) / 100.0
    return _timed(spans, wavers, times_s, midis - wave, start_s, blur_s) if wave.any() else rests


def _timed(
    spans: Sequence[tuple[int, int]],
    wavers: Sequence[bool],
    times_s: NDArray[np.float64],
    midis: NDArray[np.float64],
    start_s: float,
    blur_s: float,
) -> list[Rest]:
    """The pitch of each span of a curve and when it came there; spans on one pitch are one rest. `wavers`: whether
    there is vibrato on each."""
    low, high = spans[0]
    rests = [Rest(_settled(midis[low:high]), start_s, 0.0, wavers[0])]
    for before, (low, high), wavering in zip(spans, spans[1:], wavers[1:], strict=False):
        until_s = float(times_s[high - 1])
        middle = _settled(midis[low:high])
        if abs(middle - rests[-1].midi) < LEAST_MOVE:
            continue
        near = min(NEAR, (1.0 - HIGH) * abs(middle - rests[-1].midi))
        first = low + int(np.argmax(np.abs(midis[low:high] - middle) <= near))
        part = slice((before[0] + before[1]) // 2, min(high, first + round(ARRIVING_S / GRID_S)))
        glide = glide_of(times_s[part], midis[part], rests[-1].midi, middle, blur_s)
        if glide is None:
            glide = float(times_s[low]) - GRID_S, float(times_s[low])
        arrived_s = min(glide[1], until_s)
        rests.append(Rest(middle, arrived_s, max(glide[1] - glide[0], GRID_S), wavering))
    return _without_short(rests)


def _without_short(rests: Sequence[Rest]) -> list[Rest]:
    """The rests without those that a string leaves, the same way, too soon after it came: vibrato on a glide makes
    landings of it."""
    kept = list(rests[:1])
    for rest in rests[1:]:
        over_s = rest.over_s
        if len(kept) > 1:
            before, here = kept[-2:]
            held_s = rest.arrived_s - rest.over_s - here.arrived_s
            if held_s < LEAST_S and (rest.midi - here.midi) * (here.midi - before.midi) > 0.0:
                kept.pop()
                over_s = rest.arrived_s - here.arrived_s + here.over_s
        kept.append(replace(rest, over_s=over_s))
    return kept


def _straight(rests: Sequence[Rest], times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """The curve of levels and straight glides that some rests make."""
    knots = [(rests[0].arrived_s, rests[0].midi)]
    for before, rest in pairwise(rests):
        knots += [(rest.arrived_s - rest.over_s, before.midi), (rest.arrived_s, rest.midi)]
    at_s, midis = zip(*knots, strict=True)
    return np.asarray(np.interp(times_s, at_s, midis), dtype=np.float64)


def _staircase(offsets: NDArray[np.float64]) -> NDArray[np.float64]:
    """The best sequence of half semitones; same shape."""
    steps = np.arange(-FARTHEST, FARTHEST + STAIR / 2, STAIR)
    misfit = np.minimum(np.abs(offsets[:, None] - steps[None, :]), MOST_MISFIT)
    cost = MOVE_COST / GRID_S
    total = misfit[0] + np.where(steps == 0, 0.0, cost)
    came = np.empty(misfit.shape, dtype=np.int64)
    stay = np.arange(len(steps))
    for frame in range(1, len(offsets)):
        best = int(np.argmin(total))
        moved = total[best] + cost
        came[frame] = np.where(total <= moved, stay, best)
        total = np.minimum(total, moved) + misfit[frame]
    path = np.empty(len(offsets), dtype=np.int64)
    path[-1] = int(np.argmin(total))
    for frame in range(len(offsets) - 1, 0, -1):
        path[frame - 1] = came[frame, path[frame]]
    return steps[path]


def _held(span: tuple[int, int], midis: NDArray[np.float64]) -> tuple[int, int] | None:
    """The part of a stair in which a string rests; None if it is on its way: it is near one pitch for long, and for
    longer than a glide through all that it passes there would be. The first stair is the pick's in any case."""
    low, high = span
    part = midis[low:high]
    ordered = np.sort(part)
    counts = np.searchsorted(ordered, ordered + 2.0 * NEAR, side="right") - np.arange(len(ordered))
    most = int(np.argmax(counts))
    middle = float(np.median(ordered[most : most + int(counts[most])]))
    near = np.flatnonzero(np.abs(part - middle) <= NEAR)
    share = LEAST_SHARE / max(1.0, float(np.ptp(part)))
    if len(near) * GRID_S < LEAST_S or len(near) < share * len(part):
        return span if low == 0 else None
    return (low if low == 0 else low + int(near[0])), low + int(near[-1]) + 1


def _without_passed(spans: list[tuple[int, int]], midis: NDArray[np.float64]) -> list[tuple[int, int]]:
    """The spans without those that one glide passes through: where it goes on the same way, as one glide would."""
    kept = list(spans)
    index = 1
    while index < len(kept) - 1:
        before, here, after = (_settled(midis[slice(*kept[i])]) for i in (index - 1, index, index + 1))
        part = midis[kept[index - 1][0] : kept[index + 1][1]]
        if (after - here) * (here - before) > 0.0 and _is_one_glide(part, before, after):
            del kept[index]
            index = max(1, index - 1)
        else:
            index += 1
    return kept


def _without_wavers(spans: list[tuple[int, int]], midis: NDArray[np.float64]) -> list[tuple[int, int]]:
    """The spans without the shorter one of two that lie close together, if it is short; the pick's goes on in the
    next."""
    kept = spans[:1]
    for low, high in spans[1:]:
        start, stop = kept[-1]
        is_small = abs(_settled(midis[low:high]) - _settled(midis[start:stop])) < SMALL_MOVE
        if not is_small or min(high - low, stop - start) * GRID_S >= SMALL_LEAST_S:
            kept.append((low, high))
        elif len(kept) == 1:
            kept[0] = (start, high)
        elif high - low > stop - start:
            kept[-1] = (low, high)
    return kept


def _is_one_glide(midis: NDArray[np.float64], from_midi: float, to_midi: float) -> bool:
    """Whether a curve goes from one pitch to the other in one go: straight, or gently at both ends."""
    share = (midis - from_midi) / (to_midi - from_midi)
    edge = min(GLIDES_FROM, NEAR / abs(to_midi - from_midi))
    left = np.flatnonzero(share <= edge)
    right = np.flatnonzero(share >= 1.0 - edge)
    if not len(left) or not len(right) or right[right > left[-1]].size == 0:
        return False
    last = int(left[-1])
    share = share[last : int(right[right > last][0]) + 1]
    run = np.linspace(float(share[0]), float(share[-1]), len(share))
    gentle = run * run * (3.0 - 2.0 * run)
    off = min(float(np.sqrt(np.mean((share - way) ** 2))) for way in (run, gentle))
    return off < MOST_OFF / max(abs(to_midi - from_midi), WIDE_MOVE)


def _settled(midis: NDArray[np.float64]) -> float:
    """The middle of the pitch, without its first moments, where a glide may still come in, and its last."""
    margin = min(round(SETTLING_S / GRID_S), len(midis) // 4)
    return float(np.median(midis[margin : len(midis) - margin]))


def _has_vibrato(midis: NDArray[np.float64]) -> bool:
    wave = vibrato_of(100.0 * (midis - np.median(midis)), GRID_S)
    return float(np.sqrt(2.0 * np.mean(wave**2))) > VIBRATO_CENTS
