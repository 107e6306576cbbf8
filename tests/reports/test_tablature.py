"""Figures drawn as tablature.

A row per string, fret numbers with the letters of the pedals behind them: common practice, no source.
"""

from __future__ import annotations

from io import BytesIO, StringIO, TextIOWrapper

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.reading import read_copedent
from livecheck.reports.sheet import Sheet
from livecheck.reports.tablature import Tablature
from tests.reports.verdicts import E9, LAP, PORCH, lesson_of, text_of

EIGHT = read_copedent(
    """
    format = 1
    name = "eight strings"
    strings = ["G4", "E4", "C4", "A3", "G3", "E3", "C3", "A2"]
    [changes]
    5 = { 5 = -1, 1 = 2 }
    6 = { 2 = 1, 6 = -1 }
    stop = { 4 = 2 }
    """,
    "eight.toml",
)


def drawn(steps: str, copedent: Copedent = E9, *, length: int = 8, width: int = 80, notes: bool = False) -> str:
    """A figure in plain ASCII."""
    written = f'format = 1\ntempo = 60\ncopedent = "x"\n[[figure]]\nname = "1"\nlength = {length}\nsteps = [{steps}]'
    lesson = lesson_of(written, copedent)
    out = TextIOWrapper(BytesIO(), encoding="ascii")
    Console(file=out, width=width, color_system=None).print(Tablature(lesson.figures[0], copedent, notes))
    out.flush()
    assert isinstance(out.buffer, BytesIO)
    return out.buffer.getvalue().decode("ascii")


def row(text: str, label: str) -> str:
    """The first row with a label at its left."""
    return next(line for line in text.splitlines() if line.split(maxsplit=1)[0] == label)


def test_the_whole_figure() -> None:
    lesson = lesson_of()
    assert text_of(Tablature(lesson.figures[0], E9)).splitlines() == [
        "step     1        2        3     4           5",
        "beat     1        2 1/2    4     5           7",
        "bar      10                12    7",
        "down     LKR      none     B     B½",
        " 3  G#4  ·        ·        ·     7B½─────────X           │",
        " 4  E4   ·        ·        ·     7───────────X           │",
        " 5  B3   10────────────╱╱╱╱12────·           ·           │",
        " 8  E3   10LKR─═══10───╱╱╱╱12────·           ·           │",
        "step 2  lever [off] slowly",
    ]


def test_where_the_output_has_only_ascii() -> None:
    text = drawn("{ beat = 1, fret = 10, down = { B = 0.5 }, pick = [6] }, { beat = 3, fret = 8, down = [] }")
    assert row(text, "6") == " 6  G#3  10B/2-----" + "\\\\8" + "-" * 15 + "|"


def test_cells_name_only_what_pulls_that_string() -> None:
    text = drawn('{ beat = 1, fret = 3, down = ["A", "B", "LKL"], pick = [4, 5, 6, 7] }')
    assert row(text, "4").split()[2].startswith("3LKL-")
    assert row(text, "5").split()[2].startswith("3A-")
    assert row(text, "6").split()[2].startswith("3B-")
    assert row(text, "7").split()[2].startswith("3-")


def test_several_letters_and_names_that_are_no_letters() -> None:
    text = drawn('{ beat = 1, fret = 3, down = ["B", "RKL"], pick = [6] }')
    assert "3B+RKL-" in text
    text = drawn('{ beat = 1, fret = 3, down = ["5", "stop"], pick = [4, 5] }', EIGHT)
    assert "3:stop-" in row(text, "4")
    assert "3:5-" in row(text, "5")
    assert "B(0.3)" in drawn("{ beat = 1, fret = 3, down = { B = 0.3 }, pick = [6] }")


def test_decimals_slants_and_pulls_on_six_strings() -> None:
    text = drawn(
        "{ beat = 1, slant = { 2 = 4, 4 = 5 }, pick = [2, 3, 4] }, { beat = 3, pull = { 2 = 1 } },"
        "{ beat = 5, fret = 7.25, pull = {}, pick = [1] }",
        LAP,
    )
    assert row(text, "bar").split() == ["bar", "slant", "7.25"]
    assert row(text, "2").split()[2].startswith("4----")
    assert "==4+1" in row(text, "2")
    assert row(text, "3").split()[2].startswith("4.5-")
    assert "7.25-" in row(text, "1")
    assert "down" not in text, "there is nothing to press on a lap steel"


def test_fractions_of_beats() -> None:
    text = drawn('{ beat = 1, fret = 3, pick = [4] }, { beat = "4/3", pick = [4] }, { beat = "3 1/4", pick = [4] }')
    assert row(text, "beat").split() == ["beat", "1", "1", "1/3", "3", "1/4"]


def test_a_string_that_rings_on_through_a_pick_keeps_its_line() -> None:
    text = drawn("{ beat = 1, fret = 3, pick = [4, 8] }, { beat = 3, pick = [5], ring = [8] }", length=4)
    cut, kept = row(text, "4"), row(text, "8")
    at = row(text, "step").index("2")
    assert (cut[at], kept[at]) == (".", "-")


def test_what_a_row_cannot_show_stands_below() -> None:
    text = drawn(
        "{ beat = 1, fret = 3, pick = [8, 6, 5], roll = 0.1, swell = true },"
        '{ beat = 3, fret = 5, vibrato = true, remark = "[sing]" }, { beat = 5, fret = 5, pick = [3], harmonic = 12 }'
    )
    assert text.splitlines()[-3:] == [
        "step 1  rolled 8 6 5, 1/10 beat apart; swelled in",
        "step 2  vibrato; [sing]",
        "step 3  harmonic, touched 12 frets above the bar",
    ]
    assert "5~~~~" in row(text, "8")
    assert "5*" in row(text, "3")


def test_pitches_on_demand() -> None:
    """String 5 of the E9 neck is B3; three frets up it is D4, a whole tone more E4 (equal temperament)."""
    text = drawn('{ beat = 1, fret = 3, pick = [5] }, { beat = 3, down = ["A"] }', notes=True)
    below = text.splitlines()[text.splitlines().index(row(text, "5")) + 1]
    assert below.split() == ["D4", "E4"]
    tempered = drawn("{ beat = 1, fret = 3, pick = [2] }", LAP, notes=True)
    assert "C#4-14" in row(tempered, "2")
    assert "E4-14" in tempered


LONG = ", ".join(
    f"{{ beat = {beat}, fret = {beat % 12}, down = {['A', 'B'] if beat % 3 else []}, pick = [5, 6] }}"
    for beat in range(1, 20)
)


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_wraps_between_steps(width: int) -> None:
    text = drawn(LONG, length=20, width=width)
    assert max(map(len, text.splitlines())) <= width
    steps = [number for line in text.splitlines() if line.startswith("step") for number in line.split()[1:]]
    assert steps == [str(number) for number in range(1, 20)]
    assert sum(line.endswith("|") for line in text.splitlines()) == 2, "a closing bar line for each string, at the end"


def test_a_new_line_says_again_where_bar_and_feet_are() -> None:
    picks = ", ".join(f'{{ beat = {beat}, fret = 3, down = ["A"], pick = [5] }}' for beat in range(1, 20))
    text = drawn(picks, length=20, width=60)
    systems = text.count("step ")
    assert systems > 1
    assert [line.split() for line in text.splitlines() if line.startswith("bar")] == [["bar", "3"]] * systems
    assert [line.split() for line in text.splitlines() if line.startswith("down")] == [["down", "A"]] * systems


def test_a_slide_across_the_wrap_is_seen_on_the_new_line() -> None:
    picks = ", ".join(f"{{ beat = {beat}, fret = 3, pick = [5] }}" for beat in range(1, 8))
    text = drawn(f"{picks}, {{ beat = 8, fret = 10, over = 0.5 }}, {{ beat = 9, fret = 3 }}", length=10, width=54)
    systems = text.split("\n\n")
    assert len(systems) == 2
    assert "//10" in text
    assert "\\\\3" in systems[1]


MOVES = st.lists(
    st.tuples(
        st.integers(1, 3),
        st.integers(0, 14),
        st.sampled_from(['"A"', '"B"', '"A", "LKL"', ""]),
        st.lists(st.integers(1, 10), max_size=3, unique=True),
        st.booleans(),
    ),
    min_size=1,
    max_size=14,
)


@given(MOVES, st.sampled_from([40, 80, 120]), st.booleans())
@settings(max_examples=60, deadline=None)
def test_any_figure_fits_and_shows_every_step_once(
    moves: list[tuple[int, int, str, list[int], bool]], width: int, notes: bool
) -> None:
    steps, beat = [], 1
    for index, (wait, fret, down, pick, ring) in enumerate(moves):
        struck = pick or ([5] if index == 0 else [])
        told = f", pick = {struck}, ring = {str(ring).lower()}" if struck else ""
        steps.append(f"{{ beat = {beat}, fret = {fret}, down = [{down}]{told} }}")
        beat += wait
    text = drawn(", ".join(steps), length=beat, width=width, notes=notes)
    assert max(map(len, text.splitlines())) <= width
    shown = [number for line in text.splitlines() if line.startswith("step  ") for number in line.split()[1:]]
    assert shown == [str(number) for number in range(1, len(moves) + 1)]


def test_a_lesson_with_its_signs_and_pedals() -> None:
    lesson = lesson_of(PORCH)
    out = StringIO()
    Console(file=out, width=80, color_system=None, highlight=False).print(Sheet(lesson, lesson.figures[:1]))
    lines = out.getvalue().splitlines()
    assert lines[:4] == ["Back porch [slow]", "tempo 60, 4/4, E9, ten strings", "", "Figure 1, 8 beats"]
    assert lines[-4:] == [
        "─── rings   ╱╱╱ bar up   ═══ pedal, lever or pull moves   X blocked",
        "½ half down",
        "B raises 3 and 6 by 1 semitone",
        "LKR lowers 4 and 8 by 1 semitone",
    ]
