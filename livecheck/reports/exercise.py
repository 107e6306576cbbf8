"""An exercise in short: where the bar is and what is down, step by step.

In: figures. Out: text of 80 columns.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from livecheck.lesson.figure import Figure, Step
from livecheck.reports.packed import packed_lines
from livecheck.reports.wording import fret_text, numbered, plain

COLUMNS, FURTHER = 80, 6


def exercise_text(title: str, figures: Sequence[Figure]) -> str:
    """The title, then each figure in a paragraph: its strings, where they stay the same, and its places."""
    lines = [plain(title)]
    for figure in figures:
        sets = {tuple(sorted(step.pick, reverse=True)) for step in figure.steps if step.pick}
        strings = f" ({numbered('string', next(iter(sets)))})" if len(sets) == 1 else ""
        lead = f"  {plain(figure.name)}{strings}: "
        lines += packed_lines(lead, _places(figure, many=len(sets) > 1), COLUMNS, FURTHER)
    return "\n".join(lines) + "\n"


def _places(figure: Figure, many: bool) -> Iterator[str]:
    """3, 6+A+LKL; with the strings before them where they change: 8 at 3."""
    for step in figure.steps:
        if step.pick or step.is_move:
            yield _place(step, many)


def _place(step: Step, many: bool) -> str:
    bar = step.stance.bar
    where = fret_text(bar.frets[0][1]) if bar.is_straight else "/".join(fret_text(fret) for _, fret in bar.frets)
    down = [plain(name) + ("" if amount == 1.0 else f"({amount:g})") for name, amount in step.stance.down.items()]
    at = "+".join([where, *down])
    if step.pick and many:
        return f"{','.join(map(str, step.pick))} at {at}"
    return at if step.pick else f"to {at}"
