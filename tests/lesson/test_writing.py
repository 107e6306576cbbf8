"""A copedent that is written down is read back as it was, to the tenth of a cent that is written; a lesson just so."""

from __future__ import annotations

from datetime import date
from random import Random
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.reading import read_copedent, read_lesson
from livecheck.lesson.writing import copedent_text, lesson_text
from tests.fuzz import invented

SURROGATES: tuple[Literal["Cs"]] = ("Cs",)
LETTERS = st.characters(exclude_characters="+", exclude_categories=SURROGATES)
NAMES = st.text(LETTERS, min_size=1, max_size=6).filter(lambda name: name == name.strip())
PULLS = st.dictionaries(st.integers(1, 4), st.floats(-4.0, 4.0), min_size=1)


@st.composite
def copedents(draw: st.DrawFn) -> Copedent:
    strings = tuple(draw(st.lists(st.floats(24.0, 96.0), min_size=4, max_size=4)))
    changes = draw(st.dictionaries(NAMES, PULLS, max_size=4))
    names = sorted(changes)
    pairs = {frozenset(names[:2]): draw(PULLS)} if len(names) > 1 else {}
    drops = draw(st.dictionaries(st.sampled_from(names), st.floats(-0.2, 0.2))) if names else {}
    return Copedent(draw(NAMES), strings, changes, pairs, drops, draw(st.none() | st.dates(date(2020, 1, 1))))


@given(copedents())
def test_it_is_read_back(copedent: Copedent) -> None:
    found = read_copedent(copedent_text(copedent, "as it is"), "own.toml")
    assert (found.name, found.measured) == (copedent.name, copedent.measured)
    assert found.strings == pytest.approx(copedent.strings, abs=0.00051)
    assert found.drops == pytest.approx(copedent.drops, abs=0.00051)
    assert found.changes.keys() == copedent.changes.keys()
    for name, pulls in copedent.changes.items():
        assert found.changes[name] == pytest.approx(pulls, abs=0.00051)
    for pair, pulls in copedent.pairs.items():
        assert found.pairs[pair] == pytest.approx(pulls, abs=0.00051)


def test_how_it_looks() -> None:
    copedent = Copedent(
        "Three", (71.02, 67.863, 64.0), {"P": {1: 1.98}, "L": {1: -1.0}}, {}, {"P": 0.031}, date(2026, 11, 25)
    )
    assert copedent_text(copedent, "Mine.") == (
        "# Mine.\nformat = 1\n"
        'name = "Three"\nmeasured = 2026-11-25\n'
        'strings = ["B4", "G#4", "E4"]\nstring_cents = [2.0, -13.7, 0.0]\ndrop_cents = { "P" = 3.1 }\n'
        '\n[changes]\n"P" = { 1 = 1.980 }\n"L" = { 1 = -1.000 }\n'
    )


@given(st.integers(0, 2**32))
def test_any_lesson_is_read_back(seed: int) -> None:
    lesson = invented.lesson(Random(seed))
    text = lesson_text(lesson, "made up\nby chance")
    assert text.startswith("# made up\n# by chance\nformat   = 1\n")
    assert read_lesson(text, "lesson.toml", lambda _: lesson.copedent) == lesson


TEACHERS = """format   = 1
title    = "Porch"
tempo    = 72
meter    = "3/4"
copedent = "three.toml"

[[figure]]
name   = "up"
length = 8
steps  = [
  { beat = 1, fret = 3, pick = [1, 2] },
  { beat = 2.5, down = ["P"], over = 0.5, remark = "squeeze" },
  { beat = "3 1/3", fret = 8, down = { P = 0.5 } },
  { beat = 5, slant = { 1 = 3, 2 = 4 }, down = [], pick = [1], ring = true, vibrato = true },
  { beat = 7, block = "all" },
]
"""


def test_a_lesson_looks_as_a_teacher_would_write_it() -> None:
    own = Copedent("Three", (71.0, 68.0, 64.0), {"P": {1: 2.0}})
    assert lesson_text(read_lesson(TEACHERS, "lesson.toml", lambda _: own)) == TEACHERS


def test_a_lesson_keeps_its_backing() -> None:
    own = Copedent("Three", (71.0, 68.0, 64.0), {"P": {1: 2.0}})
    text = TEACHERS.replace("\n\n", '\nbacking  = "porch.ogg"\n\n', 1).replace("steps ", "backing_at = 2.25\nsteps ", 1)
    assert lesson_text(read_lesson(text, "lesson.toml", lambda _: own)) == text
