"""The report at a terminal: what a player reads after a take."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from livecheck.judging.verdict import ExtraVerdict
from livecheck.reports.console import render, render_summary, render_unusable
from livecheck.reports.mistake import mistakes_of
from tests.reports.verdicts import NOT_HEARD, figure_of, lesson_of, take_of, text_of

LESSON = lesson_of()


def report(*args: Any, width: int = 80, **given: Any) -> str:
    return text_of(render(take_of(*args, **given), LESSON), width)


def one(wrong: dict[tuple[int, int], dict[str, Any]], figure: str = "1") -> list[str]:
    """The lines on one figure, without its heading."""
    lines = report(figure_of(LESSON, figure, wrong), width=120).splitlines()
    start = next(number for number, line in enumerate(lines) if line.startswith(f"Figure {figure}"))
    return [line.strip() for line in lines[start + 1 : lines.index("", start)]]


def test_a_clean_take_is_quiet() -> None:
    text = report(figure_of(LESSON, "1"), figure_of(LESSON, "walk"))
    assert text.splitlines() == ["", "monday.wav: Back porch [slow], 2 figures, tempo 60 (lesson 60)", " CLEAN "]


def test_one_late_slide_on_two_strings_is_one_line() -> None:
    late = {"faults": ("late",)}
    assert one({(3, 5): {"ms": 184, **late}, (3, 8): {"ms": 176, **late}}) == [
        "step 3, strings 5 and 8: slide arrived 180 ms late",
        "beat 4, bar from 10 to 12 and B down: asked 4.00 s, heard 4.18 s",
    ]


def test_bar_short_of_its_fret_is_one_mistake() -> None:
    flat = {"cause": "bar 18 cents flat"}
    wrong = {
        (3, 5): {"off_cents": -17.0, "faults": ("flat",), **flat},
        (3, 8): {"off_cents": -19.0, "faults": ("flat",), **flat},
    }
    assert one(wrong) == [
        "step 3, strings 5 and 8: bar 18 cents flat",
        "beat 4, bar from 10 to 12 and B down: asked B4 and E4, heard 18 cents flat",
    ]
    assert " 1 MISTAKE " in report(figure_of(LESSON, "1", wrong))


def test_a_bar_that_stays_flat_is_told_once() -> None:
    flat: dict[str, Any] = {"off_cents": -20.0, "faults": ("flat",), "cause": "bar 20 cents flat"}
    lines = one({(1, 5): flat, (1, 8): flat, (2, 8): {**flat, "cause": "bar 21 cents flat"}})
    assert lines[0] == "steps 1 and 2, strings 5 and 8: bar 20 cents flat"
    again = one({(1, 5): flat, (1, 8): flat, (3, 5): flat, (3, 8): flat})
    assert len(again) == 4, "the bar has moved in between: two mistakes"


def test_the_worst_comes_first() -> None:
    lines = one(
        {
            (1, 5): {"ms": 90, "faults": ("late",)},
            (2, 8): {"off_cents": 20.0, "faults": ("sharp",)},
            (4, 3): {**NOT_HEARD, "faults": ("missed",)},
        }
    )
    assert [line.split(":")[0] for line in lines[::2]] == ["step 4, string 3", "step 2, string 8", "step 1, string 5"]


SAID: dict[str, tuple[tuple[int, int], dict[str, Any], str, str]] = {
    # name: (step, string), what was wrong, headline, detail; steps of figure 1
    "missed": ((4, 4), {**NOT_HEARD, "faults": ("missed",)}, "not heard", "asked B4, heard nothing"),
    "pick early": ((4, 4), {"ms": -92, "faults": ("early",)}, "picked 90 ms early", "asked 5.00 s, heard 4.91 s"),
    "pick late": ((4, 4), {"ms": 131, "faults": ("late",)}, "picked 130 ms late", "asked 5.00 s, heard 5.13 s"),
    "pick wrong": ((4, 4), {"off_cents": -300, "faults": ("wrong-note",)}, "another note", "asked B4, heard G#4"),
    "pick flat": ((4, 4), {"off_cents": -22, "faults": ("flat",)}, "22 cents flat", "asked B4, heard 22 cents flat"),
    "pick sharp": ((4, 4), {"off_cents": 16, "faults": ("sharp",)}, "16 cents sharp", "heard 16 cents sharp"),
    "pick cut": ((4, 4), {"faults": ("cut-short",)}, "cut short", "to ring until beat 7"),
    "pick rings": ((4, 4), {"faults": ("rang-on",)}, "rang on", "to be silent from beat 7"),
    "slide early": ((3, 5), {"ms": -220, "faults": ("early",)}, "slide arrived 220 ms early", "asked 4.00 s"),
    "slide late": ((3, 5), {"ms": 104, "faults": ("late",)}, "slide arrived 100 ms late", "asked 4.00 s"),
    "slide not made": ((3, 5), {"off_cents": -200, "faults": ("missed-move",)}, "did not move", "asked B4, heard A4"),
    "slide wrong": ((3, 5), {"off_cents": 100, "faults": ("wrong-note",)}, "arrived at another note", "heard C5"),
    "slide flat": ((3, 5), {"off_cents": -33, "faults": ("flat",)}, "arrived 33 cents flat", "heard 33 cents flat"),
    "slide sharp": ((3, 5), {"off_cents": 33, "faults": ("sharp",)}, "arrived 33 cents sharp", "heard 33 cents sharp"),
    "slide cut": ((3, 5), {"faults": ("cut-short",)}, "cut short after the move", "to ring until beat 5"),
    "slide rings": ((3, 5), {"faults": ("rang-on",)}, "rang on", "to be silent from beat 5"),
    "lever late": ((2, 8), {"ms": 150, "faults": ("late",)}, "LKR off 150 ms late", "beat 2 1/2, LKR off:"),
    "lever early": ((2, 8), {"ms": -110, "faults": ("early",)}, "LKR off 110 ms early", "beat 2 1/2, LKR off:"),
    "lever kept": ((2, 8), {"off_cents": -100, "faults": ("missed-move",)}, "did not move", "asked D4, heard C#4"),
}


@pytest.mark.parametrize("name", SAID)
def test_every_fault_has_its_words(name: str) -> None:
    (step, string), wrong, what, more = SAID[name]
    head, detail = one({(step, string): wrong})
    assert head == f"step {step}, string {string}: {what}"
    assert more in detail


def test_bar_and_pedal_moving_together_are_both_named() -> None:
    head, _ = one({(4, 5): {"ms": 200, "faults": ("late",)}}, "grips")
    assert head == "step 4, string 5: slide with A down arrived 200 ms late"
    lines = one({(4, s): {"ms": ms, "faults": ("late",)} for s, ms in ((4, 150), (5, 240), (6, 150))}, "grips")
    assert lines[::2] == [
        "step 4, string 5: slide with A down arrived 240 ms late",
        "step 4, strings 4 and 6: slide arrived 150 ms late",
    ]


def test_two_pedals_let_go_together() -> None:
    lines = one({(2, s): {"ms": 300, "faults": ("late",)} for s in (5, 6)}, "grips")
    assert lines[0] == "step 2, strings 5 and 6: A off and B off 300 ms late"


def test_extras() -> None:
    extras = (
        ExtraVerdict("extra-pick", 3.41, 5, 69.0, 2),
        ExtraVerdict("extra-pick", 3.43, 8, 62.0, 2),
        ExtraVerdict("extra-note", 3.5, None, 61.1, 2),
        ExtraVerdict("extra-note", 6.2, None, 66.0, 4),
        ExtraVerdict("extra-note", 6.6, None, 68.0, 4),
    )
    text = report(figure_of(LESSON, "1", extras=extras))
    assert "  step 2: strings 5 and 8 picked again at 3.4 s\n" in text
    assert "  step 2: a note that is not in the figure: C#4 at 3.5 s\n" in text
    assert "  step 4: notes that are not in the figure: F#4 at 6.2 s and G#4 at 6.6 s\n" in text
    assert " 3 MISTAKES " in text


def test_tuning_is_told_once_and_only_when_it_matters() -> None:
    """Cents to frequency: 440 * 2^(c/1200) Hz (ISO 16 for the 440); 20 cents under it are 434.95 Hz."""
    wrong = {(4, 4): {"ms": -92, "faults": ("early",)}}
    assert "cents" not in report(figure_of(LESSON, "1", wrong), tuning_cents=-9.9)
    text = report(figure_of(LESSON, "1", wrong), tuning_cents=-20.0)
    assert text.count("The whole take is 20 cents flat (A4 at 434.9 Hz)") == 1
    assert "12 cents sharp" in report(figure_of(LESSON, "1"), tuning_cents=12.0)


def test_a_figure_in_a_tempo_of_its_own() -> None:
    wrong = {(4, 4): {"ms": -92, "faults": ("early",)}}
    assert "Figure 1 at 1.0 s, slower than the rest: tempo 56\n" in report(figure_of(LESSON, "1", wrong, tempo=56.0))
    assert "Figure 1 at 1.0 s\n" in report(figure_of(LESSON, "1", wrong, tempo=60.5))


def test_figures_that_need_no_words_share_a_line() -> None:
    text = report(
        figure_of(LESSON, "1", {(4, 4): {"ms": -92, "faults": ("early",)}}),
        figure_of(LESSON, "1", attempt=2),
        figure_of(LESSON, "grips"),
        figure_of(LESSON, "walk", found=False),
    )
    assert "\nFigure 1 (first time) at 1.0 s\n" in text
    assert "\nClean: figures 1 (second time) and grips\n" in text
    assert "\nNot found in this take: figure walk\n" in text
    assert "\n 1 MISTAKE, 1 FIGURE NOT FOUND \n" in text


def test_what_was_not_judged_is_mentioned_briefly() -> None:
    lines = one({(3, 5): {"judged": False, **NOT_HEARD}, (1, 5): {**NOT_HEARD, "faults": ("missed",)}})
    assert lines[-1] == "not judged after that: step 3, string 5"
    assert len(lines) == 3


def test_a_string_that_died_away_is_not_said_to_have_gone_astray() -> None:
    lines = one({(3, 5): {"judged": False, **NOT_HEARD}, (4, 4): {"ms": -92, "faults": ("early",)}})
    assert lines[-1] == "no longer heard well enough to be judged: step 3, string 5"


def test_nobody_is_accused_of_what_is_not_sure() -> None:
    wrong = {(3, 5): {"faults": ("missed",), **NOT_HEARD, "confidence": 0.4}}
    lines = one(wrong)
    assert lines[-1] == "unsure, too little of it can be told from the rest: step 3, string 5"
    whole = report(figure_of(LESSON, "1", wrong))
    assert "UNSURE IN 1 PLACE" in whole
    assert "Work on" not in whole


def test_a_break_is_told_and_what_came_after_it_is_not() -> None:
    beyond = {place: {**NOT_HEARD, "judged": False} for place in ((3, 5), (3, 8))}
    broken = replace(figure_of(LESSON, "1", beyond), broken_off=2)
    text = report(broken, figure_of(LESSON, "1", attempt=2))
    assert "broken off after step 2, and begun anew" in text
    assert "not judged" not in text
    assert "1 ATTEMPT BROKEN OFF" in text


def test_the_end_says_what_to_work_on() -> None:
    late = {"ms": 180, "faults": ("late",)}
    end = report(figure_of(LESSON, "walk", {(2, 6): late, (4, 6): late})).split(" 2 MISTAKES \n")[1]
    assert end.splitlines() == [
        "Work on:",
        "  Slides arrive late (twice, by about 180 ms). Start the bar sooner: it has to",
        "    be there on the beat.",
    ]


@pytest.mark.parametrize("width", [40, 80, 120])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    flat = {"off_cents": -100, "faults": ("wrong-note",), "cause": "strings 4, 5 and 7 instead of 5, 6 and 8"}
    text = report(
        figure_of(LESSON, "grips", {(1, s): flat for s in (5, 6, 8)}), tuning_cents=31, take="takes/" * 12, width=width
    )
    assert max(map(len, text.splitlines())) <= width
    assert not any(line.endswith("  ") for line in text.splitlines())


FAULTS = ("missed", "wrong-note", "missed-move", "early", "late", "flat", "sharp", "cut-short", "rang-on")
WRONG = st.dictionaries(
    st.tuples(st.integers(1, 4), st.sampled_from([3, 4, 5, 6, 8])),
    st.fixed_dictionaries(
        {"faults": st.lists(st.sampled_from(FAULTS), max_size=3, unique=True).map(tuple)},
        optional={
            "ms": st.floats(-900, 900),
            "off_cents": st.floats(-1300, 1300),
            "heard_midi": st.none(),
            "timing_ms": st.none(),
            "cents": st.none(),
            "judged": st.booleans(),
            "cause": st.sampled_from(["bar 18 cents flat", "A not down", "string 7 instead of 6", "anything [else]"]),
        },
    ),
)


@given(WRONG, st.sampled_from(["1", "grips", "walk"]))
def test_whatever_is_wrong_every_faulty_string_is_told(wrong: dict[tuple[int, int], dict[str, Any]], name: str) -> None:
    figure = figure_of(LESSON, name, wrong)
    text = report(figure)
    assert max(map(len, text.splitlines())) <= 80
    faulty = {(c.step, c.string) for c in figure.checkpoints if c.faults}
    told = {pair for m in mistakes_of(figure) for pair in ((c.step, c.string) for c in m.checkpoints)}
    assert told == faulty
    assert (" CLEAN " in text) == (not faulty)


def test_names_are_taken_as_they_are() -> None:
    text = report(figure_of(LESSON, "1"), take="[red]mon\x1b[2Jday\n\u202e.wav")
    assert "[red]mon[2Jday .wav: Back porch [slow]" in text
    assert re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e]", text) is None


def test_without_colour_nothing_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """NO_COLOR (no-color.org): "should not add ANSI color escape codes"; bold and reverse are no colours."""
    monkeypatch.setenv("NO_COLOR", "1")
    console = Console(force_terminal=True, width=80, highlight=False)
    with console.capture() as captured:
        console.print(render(take_of(figure_of(LESSON, "1", {(3, 5): {"ms": 180, "faults": ("late",)}})), LESSON))
    codes = {int(code) for found in re.findall(r"\x1b\[([\d;]*)m", captured.get()) for code in found.split(";") if code}
    assert codes <= {0, 1, 2, 7}
    assert "slide arrived 180 ms late" in captured.get()


def test_several_takes() -> None:
    clean, late = take_of(figure_of(LESSON, "1")), {(3, 5): {"ms": 180, "faults": ("late",)}}
    bad = take_of(figure_of(LESSON, "1", late))
    text = text_of(render_summary([clean, bad, bad], LESSON, unusable=1))
    assert text.splitlines() == [
        "",
        " 4 TAKES: 1 CLEAN, 2 NOT CLEAN, 1 NOT GRADED ",
        "Most of all: Slides arrive late (twice, by about 180 ms). Start the bar",
        "  sooner: it has to be there on the beat.",
    ]
    assert text_of(render_summary([clean, clean], LESSON)) == "\n 2 TAKES: 2 CLEAN \n"


def test_a_take_that_could_not_be_graded() -> None:
    text = text_of(render_unusable("x[b].wav", "no figure of the lesson was found in it"))
    assert text == "\nx[b].wav: no figure of the lesson was found in it\n NOT GRADED \n"
