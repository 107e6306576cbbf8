"""A row of numbers as a small curve of characters, one a number, for a line of text.

In: numbers. Out: a renderable; digits from 0 to 8 where the output has no blocks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

BLOCKS = "▁▂▃▄▅▆▇█"
DIGITS = "12345678"


@dataclass(frozen=True)
class Curve:
    label: str
    values: Sequence[float | None]
    """From 0; None where there is nothing to say."""
    told: str
    """What follows the curve."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        signs = DIGITS if options.ascii_only else BLOCKS
        room = max(options.max_width - len(self.label) - len(self.told) - 1, 1)
        yield Text(f"{self.label}{drawn(self.values[-room:], signs)} {self.told}", no_wrap=True, overflow="ignore")


def drawn(values: Sequence[float | None], signs: str) -> str:
    """A sign for each value, the highest for the largest of them."""
    most = max((value for value in values if value is not None), default=0.0)
    return "".join(
        " " if value is None else signs[round(value / most * (len(signs) - 1)) if most else 0] for value in values
    )
