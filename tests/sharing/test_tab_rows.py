"""Tab in plain text, read back row by row by a reader that knows nothing of lessons."""

from __future__ import annotations

import re
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.lesson.figure import Lesson
from livecheck.lesson.reading import read_lesson
from livecheck.sharing.tab_rows import COLUMNS, tab_rows
from livecheck.sources.library import load_copedent
from tests.bench import lessons
from tests.fuzz import invented
from tests.lesson.test_sounding import WALTZ

E9 = load_copedent("e9-ten-string")
ROW = re.compile(r"([A-G]#?-?\d) *\|(.*)\|")


def systems(text: str) -> list[list[str]]:
    """Groups of rows that follow each other, without their names."""
    found: list[list[str]] = [[]]
    for line in text.splitlines():
        row = ROW.fullmatch(line)
        if row:
            found[-1].append(row[2])
        elif found[-1]:
            found.append([])
    return [rows for rows in found if rows]


def read(rows: list[str]) -> list[tuple[int, str]]:
    """(string, what is written), from left to right and from the top down."""
    cells = []
    for string, row in enumerate(rows, start=1):
        cells += [(match.start(), string, match[0]) for match in re.finditer(r"[^-|]+", row)]
    return [(string, cell) for _, string, cell in sorted(cells)]


def whole(of: Lesson) -> str:
    return tab_rows(of, of.figures)


def test_by_hand() -> None:
    of = read_lesson(WALTZ, "waltz.toml", lambda _: E9)
    (rows,) = systems(whole(of))
    assert read(rows) == [
        (5, "3"), (6, "3"), (5, "^3A"), (6, "^3B"), (4, "8*"), (5, "/8"), (5, "x"), (8, "8"), (8, "x")
    ]  # fmt: skip
    assert [name[:3] for name in whole(of).splitlines() if "|" in name] == [
        "F#4", "D#4", "G#4", "E4 ", "B3 ", "G#3", "F#3", "E3 ", "D3 ", "B2 "
    ]  # fmt: skip
    assert {row.count("|") for row in rows} == {1}, "two measures of four"


@pytest.mark.parametrize("kind", ["double-stops", "grips", "lines", "lap-pairs"])
def test_every_pick_is_there_in_order(kind: str) -> None:
    of = lessons.parse(lessons.write(kind, 11), "lesson.toml")
    cells = [cell for rows in systems(whole(of)) for cell in read(rows)]
    told = [(string, cell) for string, cell in cells if cell[0].isdigit()]
    asked = []
    for figure in of.figures:
        for step in figure.steps:
            asked += [(string, step.stance.bar.fret_at(string)) for string in sorted(step.pick)]
    assert [string for string, _ in told] == [string for string, _ in asked]
    frets = [float(re.match(r"[\d.]+", cell)[0]) for _, cell in told]  # type: ignore[index]
    assert frets == pytest.approx([fret for _, fret in asked], abs=0.006)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32))
def test_rows_of_any_lesson_are_plain_and_end_together(seed: int) -> None:
    of = invented.lesson(Random(seed))
    text = whole(of)
    assert text.isascii()
    for rows in systems(text):
        assert len(rows) == len(of.copedent.strings)
        assert len({len(row) for row in rows}) == 1
        bars = {tuple(place for place, character in enumerate(row) if character == "|") for row in rows}
        assert len(bars) == 1
        assert len(rows[0]) <= COLUMNS or not bars.pop(), "only one measure alone may be wider"
