"""Short items side by side, as many to a line as fit, none cut in two.

In: items and what stands before them. Out: lines of at most so many columns, but for an item that is wider by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

GAP = "   "


def packed_lines(lead: str, items: Iterable[str], columns: int, further: int) -> Iterator[str]:
    """`further`: blanks before every line but the first, which begins with `lead`."""
    line, empty = lead, True
    for item in items:
        if not empty and len(line) + len(GAP) + len(item) > columns:
            yield line
            line, empty = " " * further, True
        line += item if empty else GAP + item
        empty = False
    yield line
