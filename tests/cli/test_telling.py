"""What is told of figures while a take goes on, and what of it the end revises."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livecheck.cli.telling import Told, tell_figure, tell_remark, tell_revised
from livecheck.judging.verdict import FigureVerdict
from tests.reports.verdicts import E9, NOT_HEARD, figure_of, lesson_of

CLEAN = figure_of(lesson_of(), "walk")
FLAT = figure_of(lesson_of(), "walk", {(1, 6): {"off_cents": -30.0, "faults": ("flat",)}})
MISSED = figure_of(lesson_of(), "walk", {(3, 6): {**NOT_HEARD, "faults": ("missed",)}})
NOW = "Now that the whole take is known:\n"


def test_a_figure_is_told_with_its_worst_mistake(capsys: pytest.CaptureFixture[str]) -> None:
    tell_figure(CLEAN, E9)
    tell_figure(MISSED, E9)
    assert capsys.readouterr().out == "walk: clean\nwalk: 1 mistake\n  step 3, string 6: not heard\n"


def test_what_is_not_sure_is_neither_a_mistake_nor_clean(capsys: pytest.CaptureFixture[str]) -> None:
    unsure = replace(MISSED, checkpoints=tuple(replace(c, confidence=0.4) for c in MISSED.checkpoints))
    tell_figure(unsure, E9)
    tell_revised([Told.of(MISSED)], [], [unsure], E9)
    assert (
        capsys.readouterr().out
        == f"walk: unsure in 1 place\n{NOW}  figure walk at 1.0 s: unsure in 1 place after all\n"
    )


def test_what_stays_as_it_was_told_is_not_told_again(capsys: pytest.CaptureFixture[str]) -> None:
    moved = replace(FLAT, start_s=1.2, checkpoints=tuple(replace(c, timing_ms=12.0) for c in FLAT.checkpoints))
    again = replace(CLEAN, attempt=2, start_s=21.0)
    tell_revised([Told.of(FLAT), Told.of(again)], [], [moved, again], E9)
    tell_revised([], [], [CLEAN], E9)
    assert capsys.readouterr().out == ""


def test_what_turns_out_otherwise_is_told_once(capsys: pytest.CaptureFixture[str]) -> None:
    again = replace(CLEAN, attempt=2, start_s=21.0)
    last = replace(FLAT, attempt=3, start_s=41.0)
    tell_revised([Told.of(MISSED), Told.of(again), Told.of(last)], [], [CLEAN, replace(FLAT, start_s=21.1)], E9)
    assert capsys.readouterr().out == (
        NOW
        + "  figure walk at 1.0 s: clean after all\n"
        + "  figure walk at 21.0 s: 1 mistake; step 1, string 6: 30 cents flat\n"
        + "  figure walk at 41.0 s: not this figure after all\n"
    )


def test_a_figure_of_that_name_elsewhere_is_another_attempt(capsys: pytest.CaptureFixture[str]) -> None:
    tell_revised([Told.of(CLEAN)], [], [replace(CLEAN, start_s=9.5)], E9)
    assert capsys.readouterr().out == NOW + "  figure walk at 1.0 s: not this figure after all\n"


def remark_of(figure: FigureVerdict) -> FigureVerdict:
    return replace(figure, checkpoints=tuple(c for c in figure.checkpoints if c.faults))


def test_a_remark_is_one_line_with_its_figure(capsys: pytest.CaptureFixture[str]) -> None:
    tell_remark(remark_of(MISSED), E9)
    assert capsys.readouterr().out == "  walk, step 3, string 6: not heard\n"


def test_a_remark_that_was_wrong_is_taken_back_once(capsys: pytest.CaptureFixture[str]) -> None:
    remarks = [Told.of(remark_of(figure)) for figure in (MISSED, FLAT, MISSED)]
    tell_revised([Told.of(FLAT)], remarks, [FLAT], E9)
    assert capsys.readouterr().out == NOW + "  figure walk at 1.0 s, step 3: right after all\n"
