"""Results as a table for a spreadsheet: a line for each figure of each take, one for a take that was not graded.

CSV as RFC 4180 has it, UTF-8. Names come from other people's files, and a spreadsheet takes a cell that begins with one
of certain characters for a formula: such a text gets an apostrophe before it, and every cell is quoted, as OWASP
advises ("CSV Injection", owasp.org; the characters are =, +, -, @, tab, carriage return, line feed, and the full-width
forms of the first four). Numbers are numbers.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from statistics import median
from typing import Any

from livecheck.keeping.results import TakeRecord

HEADS = (
    "student", "day", "lesson", "take", "figure", "attempt", "result", "mistakes", "worst", "time off ms",
    "pitch off cents", "tempo", "error",
)  # fmt: skip
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def table_of(records: Iterable[TakeRecord]) -> str:
    """The whole table as text."""
    file = io.StringIO()
    writer = csv.writer(file, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow(HEADS)
    for record in records:
        for row in _rows(record):
            writer.writerow([harmless(cell) if isinstance(cell, str) else cell for cell in row])
    return file.getvalue()


def harmless(text: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.lstrip(" ").startswith(FORMULA) else text


def _rows(record: TakeRecord) -> Iterator[list[str | float | int | None]]:
    head = [record.student, record.taken.isoformat(), record.lesson, record.take]
    if record.error:
        yield [*head, "", None, "not graded", None, "", None, None, None, record.error]
    for figure in record.figures:
        result = "clean" if figure["clean"] else "not clean" if figure["found"] else "not found"
        mistakes = figure.get("mistakes", [])
        off = [_middle(figure, key) for key in ("timing_ms", "cents")]
        worst = mistakes[0] if mistakes else ""
        yield [*head, figure["figure"], figure["attempt"], result, len(mistakes), worst, *off, figure["tempo"], ""]


def _middle(figure: dict[str, Any], key: str) -> float | None:
    """How far off a figure's checkpoints are in the middle, whichever way."""
    off = [abs(c[key]) for c in figure["checkpoints"] if c["judged"] and c[key] is not None]
    return round(median(off), 1) if off else None
