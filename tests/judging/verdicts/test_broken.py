"""An attempt that was broken off and begun anew."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from livecheck.judging.verdict import CheckpointVerdict, FigureVerdict
from livecheck.judging.verdicts.broken import broken_off
from livecheck.lesson.figure import Figure
from tests.judging.midi_player import Take, faults, lesson_of
from tests.judging.midi_player import figure_of as played_figure

FIGURE = Figure("1", Fraction(8), ())


def checkpoint(step: int, expected_s: float, heard: bool) -> CheckpointVerdict:
    return CheckpointVerdict(
        step=step,
        string=5,
        kind="pick",
        move=None,
        beat=float(step),
        judged=True,
        expected_s=expected_s,
        heard_s=expected_s if heard else None,
        timing_ms=0.0 if heard else None,
        expected_midi=60.0,
        heard_midi=60.0 if heard else None,
        cents=0.0 if heard else None,
        faults=() if heard else ("missed",),
    )


def attempt(start_s: float, *heard: bool) -> FigureVerdict:
    checkpoints = tuple(checkpoint(number, start_s + number - 1.0, one) for number, one in enumerate(heard, start=1))
    return FigureVerdict(FIGURE, 1, True, start_s, 60.0, checkpoints, ())


def test_what_could_not_be_played_any_more_is_not_judged() -> None:
    found = broken_off(attempt(0.0, True, True, False, False), attempt(3.0, True, True, True, True))
    assert found.broken_off == 2
    assert [c.judged for c in found.checkpoints] == [True, True, False, False]
    assert not any(c.faults for c in found.checkpoints)
    assert not found.clean


def test_a_last_step_that_had_its_time_was_missed() -> None:
    whole = attempt(0.0, True, True, True, False)
    assert broken_off(whole, attempt(8.0, True, True, True, True)) == whole


@pytest.mark.parametrize("heard", [(True, True, True, True), (True, False, True, True), (False, False, False, False)])
def test_an_attempt_with_no_break_stays_as_it_is(heard: tuple[bool, ...]) -> None:
    whole = attempt(0.0, *heard)
    assert broken_off(whole, attempt(2.0, True, True, True, True)) == whole


def test_a_following_attempt_that_was_not_found_tells_nothing() -> None:
    whole = attempt(0.0, True, False)
    assert broken_off(whole, replace(whole, found=False, start_s=None)) == whole


@pytest.mark.parametrize("early_s", [0.0, 0.05])
def test_who_misses_the_last_string_and_goes_on_in_time_has_not_broken_off(early_s: float) -> None:
    steps = ("beat = 1, fret = 3, pick = [5]", "beat = 2, pick = [6]", "beat = 3, pick = [5]", "beat = 4.5, pick = [4]")
    take = Take(lesson_of(played_figure("a", 4, *steps)))
    take.leave_out(take.play("a", 1.0)[4, 4])
    take.play("a", 5.0 - early_s)
    report = take.report()
    assert [figure["broken_off"] for figure in report["figures"]] == [None, None]
    assert faults(report) == {("a", 4, 4): ["missed"]}
