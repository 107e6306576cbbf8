"""Two takes beside each other: for every attempt at a figure how both went, what is gone, what is new, what stays.

In: two verdicts on one lesson. Out: values, and a renderable as wide as it is told.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest
from statistics import median

from rich.console import Group, RenderableType
from rich.text import Text

from livecheck.judging.verdict import FigureVerdict, TakeVerdict
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Lesson
from livecheck.reports.hanging import Hanging
from livecheck.reports.headline import headline
from livecheck.reports.mistake import Mistake, mistakes_of
from livecheck.reports.outcome import figure_outcome
from livecheck.reports.wording import plain, times_text

Kind = tuple[str, tuple[int, ...], str]


@dataclass(frozen=True)
class Pair:
    """One attempt at a figure in either take; None where a take has none."""

    name: str
    attempt: int
    first: FigureVerdict | None
    second: FigureVerdict | None

    def changes(self, copedent: Copedent) -> Iterator[tuple[str, list[str]]]:
        """("gone", headlines), ("new", …), ("still", …), those that there are; only where both were played."""
        if not _found(self.first) or not _found(self.second) or self.first is None or self.second is None:
            return
        before, after = ({_kind(m): m for m in mistakes_of(figure)} for figure in (self.first, self.second))
        for what, kinds, of, figure in (
            ("gone", before.keys() - after.keys(), before, self.first),
            ("new", after.keys() - before.keys(), after, self.second),
            ("still", after.keys() & before.keys(), after, self.second),
        ):
            told = [headline(mistake, figure.figure, copedent) for kind, mistake in of.items() if kind in kinds]
            if told:
                yield what, told


def pairs_of(first: TakeVerdict, second: TakeVerdict) -> list[Pair]:
    """The attempts of both takes, each with its like, in the lesson's order."""
    names = list(dict.fromkeys(figure.figure.name for figure in (*first.figures, *second.figures)))
    pairs: list[Pair] = []
    for name in names:
        sides = [[f for f in verdict.figures if f.figure.name == name] for verdict in (first, second)]
        pairs += [Pair(name, at, *both) for at, both in enumerate(zip_longest(*sides), start=1)]
    return pairs


def went(figure: FigureVerdict | None) -> str:
    """Its outcome; how far off its times and pitches were in the middle."""
    if figure is None or not figure.found:
        return figure_outcome(figure) if figure is not None else "not played again"
    times = [abs(c.timing_ms) for c in figure.checkpoints if c.judged and c.timing_ms is not None]
    cents = [abs(c.cents) for c in figure.checkpoints if c.judged and c.cents is not None]
    told = [figure_outcome(figure)]
    told += [f"time off {median(times):.0f} ms"] if times else []
    told += [f"pitch off {median(cents):.0f} cents"] if cents else []
    return ", ".join(told)


def render_beside(first: TakeVerdict, second: TakeVerdict, lesson: Lesson) -> RenderableType:
    """Both for a terminal."""
    parts: list[RenderableType] = [
        Text(),
        Hanging(f"{plain(lesson.title)}: two takes beside each other", style="bold"),
        Hanging(plain(first.take), "1  ", 0),
        Hanging(plain(second.take), "2  ", 0),
    ]
    for pair in pairs_of(first, second):
        again = f" ({times_text(pair.attempt)})" if pair.attempt > 1 else ""
        parts += [Text(), Hanging(f"Figure {plain(pair.name)}{again}", style="bold")]
        parts += [Hanging(went(pair.first), "  1  ", 0), Hanging(went(pair.second), "  2  ", 0)]
        parts += [
            Hanging(told, f"     {what:<6} ", 0) for what, several in pair.changes(lesson.copedent) for told in several
        ]
    return Group(*parts)


def _found(figure: FigureVerdict | None) -> bool:
    return figure is not None and figure.found


def _kind(mistake: Mistake) -> Kind:
    """What makes two mistakes the same: what, where, on which strings; by how much does not matter."""
    return mistake.fault, mistake.steps, ",".join(map(str, mistake.strings))
