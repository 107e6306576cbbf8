"""The way of least movement through positions, one of several at each step.

Like `livecheck.neck.passage` for notes that are all picked, without its arrays: for a few positions a step this is soon
done, and nothing has to be loaded for it.
"""

from __future__ import annotations

from collections.abc import Sequence

from livecheck.neck.neck import Neck
from livecheck.neck.position import Position, movement_frets

Way = tuple[float, tuple[Position, ...]]
"""What it costs, in frets, and the position of each step."""


def least_path(neck: Neck, steps: Sequence[Sequence[Position]]) -> Way | None:
    """The cheapest way; None where some step has no position."""
    if not steps or not all(steps):
        return None
    ways: list[Way] = [(neck.effort(position), (position,)) for position in steps[0]]
    for positions in steps[1:]:
        ways = [_joined(neck, ways, position) for position in positions]
    return min(ways, key=lambda way: way[0])


def _joined(neck: Neck, ways: Sequence[Way], position: Position) -> Way:
    costs = [cost + movement_frets(way[-1], position) for cost, way in ways]
    least = min(range(len(costs)), key=costs.__getitem__)
    return costs[least] + neck.effort(position), (*ways[least][1], position)
