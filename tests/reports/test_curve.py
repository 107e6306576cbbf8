"""Numbers as a curve of characters."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from livecheck.reports.curve import BLOCKS, DIGITS, Curve, drawn


def test_the_largest_is_the_highest_and_nothing_is_blank() -> None:
    assert drawn([0.0, 50.0, None, 100.0], BLOCKS) == "▁▅ █"
    assert drawn([0.0, 0.0], DIGITS) == "11"
    assert drawn([], BLOCKS) == ""


@pytest.mark.parametrize(("encoding", "said"), [("utf-8", "off ▁█ to 9\n"), ("ascii", "off 18 to 9\n")])
def test_it_is_told_with_what_the_terminal_has(encoding: str, said: str) -> None:
    file = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    Console(file=file, width=40).print(Curve("off ", [0.0, 9.0], "to 9"))
    file.flush()
    file.seek(0)
    assert file.read() == said


def test_of_too_many_the_last_are_shown() -> None:
    file = io.StringIO()
    Console(file=file, width=10).print(Curve("x ", [float(n) for n in range(50)], "ab"))
    assert len(file.getvalue().rstrip("\n")) == 10
    assert file.getvalue() == "x ▇████ ab\n"
