"""How a figure or a whole take went, in a few words: clean, 3 mistakes, unsure in 2 places, broken off, not found.

In: a verdict. Out: text. What is not sure is no mistake, but nothing that has it is called clean.
"""

from __future__ import annotations

from collections.abc import Sequence

from livecheck.judging.verdict import FigureVerdict, TakeVerdict
from livecheck.reports.mistake import mistakes_of
from livecheck.reports.wording import counted


def figure_outcome(figure: FigureVerdict) -> str:
    """One figure's."""
    return _told([figure]) if figure.found else "not found"


def take_outcome(verdict: TakeVerdict) -> str:
    """All of them together."""
    return _told(verdict.figures)


def _told(figures: Sequence[FigureVerdict]) -> str:
    mistakes = sum(len(mistakes_of(figure)) for figure in figures)
    missing = sum(not figure.found for figure in figures)
    broken = sum(figure.broken_off is not None for figure in figures)
    unsure = sum(len(figure.unsure) for figure in figures)
    told = [counted(mistakes, "mistake")] if mistakes else []
    told += [f"{counted(missing, 'figure')} not found"] if missing else []
    told += [f"{counted(broken, 'attempt')} broken off"] if broken and not told else []
    told += [f"unsure in {counted(unsure, 'place')}"] if unsure and not told else []
    return ", ".join(told) or "clean"
