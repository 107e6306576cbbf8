"""Where a take breathes: happenings in, the runs that become figures out.

A breath is a silence that was meant. Where a player goes on for long without one, the longest wait for a pick into
which nothing rings on is taken for it. What is played alone between two breaths is no phrase: it goes with the nearer
of those beside it.
"""

from __future__ import annotations

from collections.abc import Sequence

from livecheck.drafting.happening import Happening, ends_by
from livecheck.drafting.line import Line

BREATH_S = 0.3
"""Common practice, no source: shorter silences part notes, not phrases."""
LONGEST_S = 13.0
"""Four bars and a half at a middling tempo."""
SHORTEST_S = 2.0


def phrases(happenings: Sequence[Happening], lines: Sequence[Line]) -> list[list[Happening]]:
    """Happenings cut into runs, each beginning with a pick before which nothing rings."""
    picks_s = [one.time_s for one in happenings if one.picked]
    starts = [index for index, one in enumerate(happenings) if one.picked and _is_fresh(one, lines, picks_s)]
    breaths = [index for index in starts if _silence_s(happenings[index], lines) >= BREATH_S]
    cuts = _joined(sorted({*breaths, *starts[:1]}), happenings, lines)
    if not cuts:
        return []
    runs = [list(happenings[low:high]) for low, high in zip(cuts, [*cuts[1:], len(happenings)], strict=True)]
    fresh = {happenings[index].time_s for index in starts}
    return [part for run in runs for part in _shortened(run, fresh)]


def _is_fresh(pick: Happening, lines: Sequence[Line], picks_s: Sequence[float]) -> bool:
    """Whether nothing rings on into a pick."""
    for line in lines:
        if line.start_s < pick.time_s < line.end_s:
            ended_s = ends_by(line, picks_s)
            if ended_s is None or ended_s > pick.time_s:
                return False
    return True


def _silence_s(pick: Happening, lines: Sequence[Line]) -> float:
    """How long nothing had sounded before a pick."""
    before = [line.end_s for line in lines if line.start_s < pick.time_s]
    return pick.time_s - max(before, default=0.0)


def _joined(cuts: Sequence[int], happenings: Sequence[Happening], lines: Sequence[Line]) -> list[int]:
    """The cuts without those that leave one thing alone, unless that makes too long a run."""
    edges = [*cuts, len(happenings)]
    at = 0
    while at < len(edges) - 1:
        played = sum(bool(one.picked or one.moved) for one in happenings[edges[at] : edges[at + 1]])
        beside = [cut for cut in (at, at + 1) if 0 < cut < len(edges) - 1]
        nearest = min(beside, key=lambda cut: _silence_s(happenings[edges[cut]], lines), default=0)
        if played == 1 and nearest and _length_s(happenings[edges[nearest - 1] : edges[nearest + 1]]) <= LONGEST_S:
            del edges[nearest]
            at = nearest - 1
        else:
            at += 1
    return edges[:-1]


def _length_s(run: Sequence[Happening]) -> float:
    """From the first happening to the last."""
    return run[-1].time_s - run[0].time_s


def _shortened(run: list[Happening], fresh: set[float]) -> list[list[Happening]]:
    """A run cut further where it is too long for a figure."""
    if _length_s(run) <= LONGEST_S:
        return [run]
    best, longest = None, 0.0
    for index, one in enumerate(run):
        within = min(one.time_s - run[0].time_s, run[-1].time_s - one.time_s) >= SHORTEST_S
        if one.time_s in fresh and within:
            before = [other.time_s for other in run[:index] if other.picked or other.moved]
            waited = one.time_s - max(before)
            if waited > longest:
                best, longest = index, waited
    if best is None:
        return [run]
    return [*_shortened(run[:best], fresh), *_shortened(run[best:], fresh)]
