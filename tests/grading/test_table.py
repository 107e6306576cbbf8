"""The table, read by Python's csv, with what spreadsheets take for formulas.

The characters are those of OWASP, "CSV Injection" (owasp.org/www-community/attacks/CSV_Injection), from memory.
"""

from __future__ import annotations

import csv
import io
from datetime import date

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.grading.table import HEADS, harmless, table_of
from livecheck.keeping.results import TakeRecord

HOSTILE = [
    '=HYPERLINK("http://x")',
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    "\uff1d1",
    "\uff0b1",
    "\uff0d1",
    "\uff20A1",
    "  =1",
]


def record(student: str, **more: object) -> TakeRecord:
    return TakeRecord(key="0", take=student, student=student, taken=date(2026, 11, 3), **more)  # type: ignore[arg-type]


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.mark.parametrize("name", HOSTILE)
def test_no_cell_begins_like_a_formula(name: str) -> None:
    (row,) = rows(table_of([record(name, error=name)]))
    for cell in row.values():
        assert not cell.lstrip(" ").startswith(tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"))
    assert row["student"] == f"'{name}"


@given(st.text())
def test_what_is_harmless_stays_and_commas_and_quotes_open_no_new_cell(name: str) -> None:
    (row,) = rows(table_of([record(name, error="x")]))
    assert list(row) == list(HEADS)
    assert row["student"].removeprefix("'") == name.removeprefix("'") or "\r" in name or "\x00" in name


def test_a_line_for_each_figure_with_numbers_that_are_numbers() -> None:
    checkpoints = [
        {"judged": True, "timing_ms": -30.0, "cents": 4.0},
        {"judged": True, "timing_ms": 10.0, "cents": None},
    ]
    figure = {"figure": "1", "attempt": 1, "found": True, "clean": False, "tempo": 81.5, "checkpoints": checkpoints,
              "mistakes": ["step 2, string 1: late"]}  # fmt: skip
    (row,) = rows(table_of([record("Ann", lesson="-Rain", figures_json=msgspec.Raw(msgspec.json.encode([figure])))]))
    assert (row["time off ms"], row["pitch off cents"], row["tempo"]) == ("20.0", "4.0", "81.5")
    assert (row["result"], row["mistakes"], row["worst"]) == ("not clean", "1", "step 2, string 1: late")
    assert row["lesson"] == "'-Rain"


def test_an_apostrophe_is_put_before_formulas_only() -> None:
    assert harmless("Anna-Lena =)") == "Anna-Lena =)"
