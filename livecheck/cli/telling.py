"""What is told of figures while the take goes on, and what of that the end of the take makes different.

What becomes certain while a figure is played is remarked in a line, if it is a mistake. A figure that has ended is told
at once: its name, and clean or how many mistakes, on a terminal in letters that can be read from behind the instrument;
then the worst mistake in words. Neither is settled: what turns out otherwise is told once more, when the whole take is
known.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass

from livecheck.cli.output import show
from livecheck.judging.verdict import Extra, Fault, FigureVerdict
from livecheck.lesson.copedent import Copedent
from livecheck.reports.hanging import Hanging
from livecheck.reports.headline import headline
from livecheck.reports.large import Large
from livecheck.reports.mistake import mistakes_of
from livecheck.reports.outcome import figure_outcome
from livecheck.reports.wording import numbered, plain

Gist = tuple[tuple[Fault | Extra, tuple[int, ...], tuple[int, ...]], ...]
"""Of each mistake: what, at which steps, on which strings."""


@dataclass(frozen=True, slots=True)
class Told:
    """What was told of a figure, or remarked: all of it that is compared at the end."""

    name: str
    start_s: float
    length_s: float
    gist: Gist

    @staticmethod
    def of(figure: FigureVerdict) -> Told:
        length_s = float(figure.figure.length) * 60.0 / (figure.tempo or 60.0)
        return Told(figure.figure.name, figure.start_s or 0.0, length_s, _gist(figure))

    def among(self, figures: Sequence[FigureVerdict]) -> FigureVerdict | None:
        """The same attempt among others' verdicts."""
        near = [
            (abs(figure.start_s - self.start_s), number)
            for number, figure in enumerate(figures)
            if figure.figure.name == self.name and figure.start_s is not None
        ]
        away_s, number = min(near, default=(self.length_s, 0))
        return figures[number] if away_s < 0.5 * self.length_s else None


def tell_figure(figure: FigureVerdict, copedent: Copedent) -> None:
    """The verdict on a figure as it stands now."""
    mistakes = mistakes_of(figure)
    _tell(f"{plain(figure.figure.name)}: {figure_outcome(figure)}")
    if mistakes:
        show(Hanging(headline(mistakes[0], figure.figure, copedent), "  "))


def tell_gap(figure: FigureVerdict) -> None:
    """A figure that is not judged as if it were whole."""
    _tell(f"{plain(figure.figure.name)}: sound was lost")


def tell_remark(remark: FigureVerdict, copedent: Copedent) -> None:
    """What has become certain of a figure that is still being played."""
    for mistake in mistakes_of(remark):
        show(Hanging(f"{plain(remark.figure.name)}, {headline(mistake, remark.figure, copedent)}", "  "))


def tell_revised(
    told: Sequence[Told], remarked: Sequence[Told], final: Sequence[FigureVerdict], copedent: Copedent
) -> None:
    """What the whole take makes different of what was told, and of what was remarked."""
    pairs = [(one, one.among(final)) for one in told]
    revised = [
        f"figure {plain(one.name)} at {one.start_s:.1f} s: {_instead(now, copedent)}"
        for one, now in pairs
        if now is None or _gist(now) != one.gist
    ]
    for remark in remarked:
        now = remark.among(final)
        if now is not None and (right := _steps(remark.gist) - _steps(_gist(now))):
            where = f"figure {plain(remark.name)} at {now.start_s:.1f} s, {numbered('step', right)}"
            revised.append(f"{where}: right after all")
    if revised:
        show(Hanging("Now that the whole take is known:"))
    for sentence in dict.fromkeys(revised):
        show(Hanging(sentence, "  "))


def _tell(told: str) -> None:
    show(Large(told) if sys.stdout.isatty() else Hanging(told))


def _instead(now: FigureVerdict | None, copedent: Copedent) -> str:
    if now is None:
        return "not this figure after all"
    mistakes, outcome = mistakes_of(now), figure_outcome(now)
    if not mistakes:
        return f"{outcome} after all"
    return f"{outcome}; {headline(mistakes[0], now.figure, copedent)}"


def _steps(gist: Gist) -> set[int]:
    """Those at which something was wrong."""
    return {step for _, steps, _ in gist for step in steps}


def _gist(figure: FigureVerdict) -> Gist:
    return tuple(sorted((mistake.fault, mistake.steps, mistake.strings) for mistake in mistakes_of(figure)))
