"""A paragraph whose further lines stand further in than its first.

In: text, never taken for markup. Out: lines as wide as told, without blanks at their ends.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text


@dataclass(frozen=True)
class Hanging:
    text: str
    lead: str = ""
    """What stands before the first line; as many blanks stand before the others."""
    further: int = 2
    """Columns more before the lines that follow."""
    style: str = ""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        rest = len(self.lead) + self.further
        lines = Text(self.text, self.style).wrap(console, max(options.max_width - rest, 1))
        for number, line in enumerate(lines):
            line.rstrip()
            yield Text(" " * rest if number else self.lead).append_text(line)
