"""What happens in a take, moment by moment: lines in, picks, moves and silences in order of time out.

Strings struck within a few hundredths of a second are one pick, a little further apart a roll; arrivals close together
are one move. A line that ends where the next pick is was silenced by it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from livecheck.drafting.line import Line, Rest

TOGETHER_S = 0.045
"""Strings of one grip are struck within it."""
ROLLED_S = 0.17
"""Strings of a rolled grip follow each other within it."""
MOVED_TOGETHER_S = 0.07
SILENCED_BY_S = 0.15
"""So long before a pick, at most, the hand that will pick has damped the strings."""
STRUCK_ON_S = 0.12
"""A string that goes on for so long after a pick was let ring."""
APART_S = 0.06
"""Closer together than this two things are one."""
LEAST_REST_S = 0.2
"""A silence shorter than this before the next pick is none that was meant."""


@dataclass(frozen=True)
class Happening:
    time_s: float
    picked: tuple[int, ...] = ()
    """Lines, by their index, in the order struck."""
    roll_s: float = 0.0
    """Between one string and the next."""
    moved: tuple[tuple[int, Rest], ...] = ()
    """Ringing lines and where they arrived."""
    silenced: tuple[int, ...] = ()
    """Lines that end here, with nothing picked in their place."""

    @property
    def over_s(self) -> float:
        """How long the move took."""
        return max((rest.over_s for _, rest in self.moved), default=0.0)


def happenings(lines: Sequence[Line]) -> list[Happening]:
    """In order of time; lines are known by their index."""
    picks = list(_picks(lines))
    times_s = [pick.time_s for pick in picks]
    moves = list(_moves(lines))
    merged: list[Happening] = []
    for pick in picks:
        near = [move for move in moves if abs(move.time_s - pick.time_s) < MOVED_TOGETHER_S]
        kept = tuple(pair for move in near for pair in move.moved if pair[0] not in pick.picked)
        moves = [move for move in moves if move not in near]
        merged.append(Happening(pick.time_s, pick.picked, pick.roll_s, kept))
    return sorted([*merged, *moves, *_silences(lines, times_s)], key=lambda one: one.time_s)


def ends_by(line: Line, picks_s: Sequence[float]) -> float | None:
    """The time of the pick that silences a line; None if it ends by itself, or nothing is picked after."""
    for time_s in picks_s:
        if line.start_s + APART_S < time_s and line.end_s < time_s + STRUCK_ON_S:
            return time_s if line.end_s > time_s - max(SILENCED_BY_S, LEAST_REST_S) else None
    return None


def _picks(lines: Sequence[Line]) -> Iterator[Happening]:
    order = sorted(range(len(lines)), key=lambda index: lines[index].start_s)
    groups: list[list[int]] = []
    for index in order:
        if groups and lines[index].start_s - lines[groups[-1][0]].start_s <= TOGETHER_S:
            groups[-1].append(index)
        else:
            groups.append([index])
    while groups:
        grip = groups.pop(0)
        struck = [lines[grip[0]].start_s]
        if len(grip) == 1:
            while groups and _rolls_on(lines, grip, struck, groups[0]):
                struck.append(lines[groups[0][0]].start_s)
                grip += groups.pop(0)
        roll_s = (struck[-1] - struck[0]) / (len(struck) - 1) if len(struck) > 1 else 0.0
        yield Happening(struck[0], tuple(grip), roll_s)


def _rolls_on(lines: Sequence[Line], grip: Sequence[int], struck: Sequence[float], after: Sequence[int]) -> bool:
    """Whether the next string belongs to the same roll: soon, as evenly, and while the others still ring."""
    time_s = lines[after[0]].start_s
    gap_s = time_s - struck[-1]
    even = len(struck) < 2 or abs(gap_s - (struck[-1] - struck[-2])) < 0.5 * gap_s
    rings = all(lines[index].end_s > time_s + STRUCK_ON_S for index in grip)
    still = all(rest.arrived_s > time_s for index in grip for rest in lines[index].rests[1:])
    return len(after) == 1 and gap_s <= ROLLED_S and even and rings and still


def _moves(lines: Sequence[Line]) -> Iterator[Happening]:
    arrivals = sorted(
        ((index, rest) for index, line in enumerate(lines) for rest in line.rests[1:]), key=lambda one: one[1].arrived_s
    )
    group: list[tuple[int, Rest]] = []
    for index, rest in arrivals:
        if group and (index in {other for other, _ in group} or not _with(rest, group[0][1])):
            yield _move(group)
            group = []
        group.append((index, rest))
    if group:
        yield _move(group)


def _with(rest: Rest, before: Rest) -> bool:
    """Whether two strings moved as one: they arrive together, or the first one moved while the other was on its way, as
    the bar that moves one of them moves both."""
    nested = rest.arrived_s - rest.over_s <= before.arrived_s - before.over_s
    return nested or rest.arrived_s - before.arrived_s <= MOVED_TOGETHER_S


def _move(group: Sequence[tuple[int, Rest]]) -> Happening:
    times_s = sorted(rest.arrived_s for _, rest in group)
    return Happening(times_s[len(times_s) // 2], moved=tuple(group))


def _silences(lines: Sequence[Line], picks_s: Sequence[float]) -> Iterator[Happening]:
    """Where lines end with nothing picked in their place."""
    ends = sorted((line.end_s, i) for i, line in enumerate(lines) if ends_by(line, picks_s) is None)
    group: list[tuple[float, int]] = []
    for before, after in pairwise([*ends, (float("inf"), -1)]):
        group.append(before)
        if after[0] - before[0] > SILENCED_BY_S:
            yield Happening(group[-1][0], silenced=tuple(index for _, index in group))
            group = []
