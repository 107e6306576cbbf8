"""A lesson to read and to print: its figures as tablature, and what the signs, pedals and levers in them mean.

In: a lesson. Out: a renderable as wide as it is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from livecheck.lesson.beat import beat_text
from livecheck.lesson.figure import Figure, Lesson
from livecheck.lesson.listing import listed
from livecheck.reports.hanging import Hanging
from livecheck.reports.tablature import Tablature, legend, signs_for
from livecheck.reports.wording import plain


@dataclass(frozen=True)
class Sheet:
    lesson: Lesson
    figures: tuple[Figure, ...]
    """Those of the lesson's figures to show."""
    notes: bool = False
    """Whether to add the pitches that result."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        lesson = self.lesson
        yield Hanging(plain(lesson.title), style="bold")
        yield Hanging(f"tempo {lesson.tempo:g}, {lesson.meter}, {plain(lesson.copedent.name)}")
        if lesson.backing is not None:
            yield Hanging(f"backing {plain(lesson.backing)}")
        for figure in self.figures:
            yield Text()
            beats = f"{beat_text(figure.length)} beat{'' if figure.length == 1 else 's'}"
            begins = "" if figure.backing_s is None else f", {figure.backing_s:g} s into the backing"
            yield Hanging(f"Figure {plain(figure.name)}, {beats}{begins}", style="bold")
            yield Tablature(figure, lesson.copedent, self.notes)
        yield Text()
        yield from _packed(legend(self.figures, lesson.copedent, signs_for(options)), options.max_width)
        for line in self._changes():
            yield Hanging(line)

    def _changes(self) -> Iterator[str]:
        """What the pedals and levers do that the figures use."""
        used = {name for figure in self.figures for step in figure.steps for name in step.stance.down}
        for name, pulls in self.lesson.copedent.changes.items():
            if name in used:
                yield f"{plain(name)} {', '.join(_pulls(pulls))}"


def _packed(items: Iterable[str], width: int) -> Iterator[Text]:
    """Items side by side, as many to a line as fit."""
    line = ""
    for item in items:
        if line and len(line) + 3 + len(item) > width:
            yield Text(line)
            line = ""
        line += f"   {item}" if line else item
    yield Text(line)


def _pulls(pulls: Mapping[int, float]) -> Iterator[str]:
    """raises 5 and 10 by 2 semitones."""
    for semitones in sorted(set(pulls.values()), reverse=True):
        strings = listed([str(string) for string in sorted(pulls) if pulls[string] == semitones])
        amount = f"{abs(semitones):g} semitone{'' if abs(semitones) == 1.0 else 's'}"
        yield f"{'raises' if semitones > 0 else 'lowers'} {strings} by {amount}"
