"""Every fault on picks and arrivals, told from MIDI takes of small figures.

MIDI is exact, so the definitions alone decide. Pitches are from the MIDI 1.0 Detailed Specification's note numbers
(middle C is 60) and the open strings of the E9 neck (common practice, no source): string 3 G#4 68, 4 E4 64, 5 B3 59,
6 G#3 56, 8 E3 52; a fret is a semitone. Tempo 60: a beat is a second, so the limits are those of standard tolerances.
"""

from __future__ import annotations

import copy
import math
from typing import Any

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.score import TimedScore
from livecheck.judging.verdicts.judge import Judge
from livecheck.lesson.expectation import expect
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import load_copedent, load_tolerances
from tests.judging.midi_player import Stroke, Take, checkpoint, extras, faults, figure_of, lesson_of

SECOND = figure_of(
    "2",
    6,
    "beat = 1, fret = 8, pick = [4, 5]",
    "beat = 3, fret = 10, pick = [3]",
    "beat = 5, fret = 8, pick = [8]",
)
"""Played without a fault behind each first figure, to hold tempo and tuning."""
SLIDE = (
    "beat = 1, fret = 3, pick = [5, 6]",
    "beat = 4, fret = 5, over = 0.5",
    "beat = 5, pick = [4]",
    'beat = 7, block = "all"',
)
PEDALS = (
    "beat = 1, fret = 3, pick = [5, 6]",
    'beat = 3, down = ["A", "B"], over = 0.5',
    "beat = 5, down = [], over = 0.5",
    'beat = 7, block = "all"',
)
BARE = ("beat = 1, fret = 3, pick = [5, 6]", "beat = 4, fret = 5, over = 0.5", 'beat = 7, block = "all"')
GRIPS = (
    "beat = 1, fret = 3, pick = [5, 6]",
    "beat = 3, fret = 8, pick = [5, 6]",
    "beat = 5, fret = 10, over = 1",
    'beat = 7, block = "all"',
)
Played = dict[tuple[int, int], Stroke]


def _played(*steps: str, copedent: str = "e9-ten-string", second: str = SECOND) -> tuple[Take, Played]:
    """A take of figure 1 from 1.0 s and figure 2 from 10.0 s, and the strokes of figure 1."""
    take = Take(lesson_of(figure_of("1", 8, *steps) + second, copedent=copedent))
    strokes = take.play("1", 1.0)
    take.play("2", 10.0)
    return take, strokes


def _found(report: dict[str, Any]) -> list[bool]:
    return [figure["found"] for figure in report["figures"]]


def _again(take: Take, stroke: Stroke, at_s: float) -> None:
    """Strike a ringing string again."""
    second = copy.deepcopy(stroke)
    stroke.end_s, second.start_s = at_s - 0.01, at_s
    take.strokes.append(second)


# what is right


@pytest.mark.parametrize(
    "steps",
    [
        SLIDE,
        PEDALS,
        GRIPS,
        ("beat = 1, fret = 3, pick = [5]",),
        ("beat = 1, fret = 5", "beat = 5, pick = [5, 6]", "beat = 7, fret = 7"),
        ("beat = 1, fret = 3, pick = [5, 8]", "beat = 2, fret = 5", "beat = 3, fret = 3", 'beat = 5, block = "all"'),
        (
            "beat = 1, fret = 3, pick = [5, 8]",
            "beat = 2, down = { A = 0.5 }",
            "beat = 3, down = { A = 1 }",
            "beat = 4, down = []",
        ),
        ("beat = 1, fret = 5, pick = [5, 6]", "beat = 3, slant = { 5 = 5, 6 = 6 }, over = 0.5", "beat = 4, fret = 8"),
        (
            "beat = 1, fret = 5, pick = [5], harmonic = 12",
            "beat = 3, fret = 7, pick = [4], swell = true",
            "beat = 5, fret = 5, pick = [3], harmonic = 7",
        ),
        ("beat = 1, fret = 5, pick = [3, 4, 5], roll = 0.25", "beat = 3, fret = 7, pick = [6, 5, 4], roll = 0.1"),
        (
            "beat = 1, fret = 5, pick = [4, 5]",
            'beat = 2, block = "all"',
            "beat = 3, pick = [5]",
            "beat = 4, block = [5], pick = [4]",
        ),
        (
            "beat = 1, fret = 3, pick = [5]",
            "beat = 3, fret = 5, pick = [4], ring = true",
            "beat = 5, fret = 7, pick = [3], ring = [4]",
        ),
        ("beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5", 'beat = 4, down = ["A", "B"], over = 1.5'),
        ("beat = 1, fret = 5, pick = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]", "beat = 3, fret = 7"),
        tuple(f"beat = {beat}, fret = 5, pick = [5]" for beat in range(1, 8)),
    ],
)
def test_what_is_played_as_written_is_clean(steps: tuple[str, ...]) -> None:
    take, _ = _played(*steps)
    report = take.report()
    assert faults(report) == {}
    assert extras(report) == []
    assert report["clean"] is True


def test_a_pull_behind_the_bar_is_clean() -> None:
    second = figure_of("2", 4, "beat = 1, fret = 3, pick = [1, 3]", "beat = 3, fret = 7, pick = [4]")
    steps = ("beat = 1, fret = 5, pick = [2, 3]", "beat = 3, pull = { 2 = 1 }, over = 0.5", "beat = 5, pull = {}")
    take, _ = _played(*steps, copedent="lap-steel-six-c6", second=second)
    assert take.report()["clean"] is True


def test_the_numbers_of_a_clean_slide() -> None:
    take, _ = _played(*SLIDE)
    report = take.report()
    pick, arrival = checkpoint(report, "1", 1, 5), checkpoint(report, "1", 2, 5)
    assert (pick["kind"], pick["move"], pick["judged"], pick["beat"]) == ("pick", None, True, 1.0)
    assert (arrival["kind"], arrival["move"], arrival["judged"], arrival["beat"]) == ("arrive", "slide", True, 4.0)
    assert pick["expected_midi"] == 59 + 3
    assert arrival["expected_midi"] == 59 + 5
    assert pick["expected_s"] == pytest.approx(1.0, abs=0.002)
    assert arrival["expected_s"] == pytest.approx(4.0, abs=0.002)
    for one in (pick, arrival):
        assert one["heard_s"] == pytest.approx(one["expected_s"], abs=0.003)
        assert one["timing_ms"] == pytest.approx(0.0, abs=3.0)
        assert one["heard_midi"] == pytest.approx(one["expected_midi"], abs=0.01)
        assert one["cents"] == pytest.approx(0.0, abs=1.0)
        assert (one["faults"], one["cause"]) == ([], None)


@pytest.mark.parametrize(
    ("down", "move"), [('fret = 5, down = ["A"]', "both"), ('down = ["A"]', "pedal"), ("fret = 5", "slide")]
)
def test_what_moved_the_string(down: str, move: str) -> None:
    take, _ = _played("beat = 1, fret = 3, pick = [5]", f"beat = 3, {down}, over = 0.5")
    assert checkpoint(take.report(), "1", 2, 5)["move"] == move


def test_vibrato_never_counts_as_out_of_tune_or_time() -> None:
    take, strokes = _played(*GRIPS)
    stroke = strokes[2, 5]
    straight = copy.deepcopy(stroke)
    times = [stroke.start_s + 0.01 * i for i in range(390)]
    stroke.points = [(t, straight.midi_at(t) + 0.35 * math.sin(2 * math.pi * 5.5 * t)) for t in times]
    assert take.report()["clean"] is True


# picks: heard or not


def test_a_string_left_out_is_missed_and_its_moves_are_not_judged() -> None:
    take, strokes = _played(*SLIDE)
    take.leave_out(strokes[1, 5])
    report = take.report()
    assert faults(report) == {("1", 1, 5): ["missed"]}
    missed, move = checkpoint(report, "1", 1, 5), checkpoint(report, "1", 2, 5)
    nothing = {"heard_s": None, "timing_ms": None, "heard_midi": None, "cents": None}
    assert missed.items() >= nothing.items()
    assert move.items() >= ({"judged": False, "faults": []} | nothing).items()
    assert checkpoint(report, "1", 2, 6)["judged"] is True


def test_a_step_left_out_is_missed_on_all_its_strings() -> None:
    take, strokes = _played(*GRIPS)
    take.leave_out(strokes[2, 5])
    take.leave_out(strokes[2, 6])
    assert faults(take.report()) == {("1", 2, 5): ["missed"], ("1", 2, 6): ["missed"]}


def test_judging_begins_again_with_the_next_pick() -> None:
    take, strokes = _played(*GRIPS)
    take.leave_out(strokes[1, 5])
    report = take.report()
    assert faults(report) == {("1", 1, 5): ["missed"]}
    assert checkpoint(report, "1", 2, 5)["judged"] is True
    assert checkpoint(report, "1", 3, 5)["judged"] is True


def test_another_string_in_its_place_is_a_wrong_note_and_no_extra() -> None:
    take, strokes = _played(*SLIDE)
    take.leave_out(strokes[1, 5])
    take.strike(8, 1.0, 2.0, 52 + 3)
    report = take.report()
    assert faults(report) == {("1", 1, 5): ["wrong-note"]}
    assert checkpoint(report, "1", 1, 5)["cause"] == "string 8 instead of 5"
    assert checkpoint(report, "1", 1, 5)["cents"] == pytest.approx(-700.0, abs=1.0)
    assert checkpoint(report, "1", 2, 5)["judged"] is False
    assert extras(report) == []


def test_one_sound_serves_one_string() -> None:
    """String 6 alone is struck, at the pitch asked of string 5: two strings are wrong, not one."""
    take, strokes = _played(*SLIDE)
    take.leave_out(strokes[1, 5])
    strokes[1, 6].detune(3.0)
    assert {key for key in faults(take.report()) if key[1] == 1} == {("1", 1, 5), ("1", 1, 6)}


def test_the_bar_a_fret_low_is_named() -> None:
    take, strokes = _played(*GRIPS)
    strokes[2, 5].detune(-1.0)
    strokes[2, 6].detune(-1.0)
    report = take.report()
    assert faults(report) == {("1", 2, 5): ["wrong-note"], ("1", 2, 6): ["wrong-note"]}
    assert {checkpoint(report, "1", 2, string)["cause"] for string in (5, 6)} == {"bar at 7, not 8"}
    assert checkpoint(report, "1", 3, 5)["judged"] is False


@pytest.mark.parametrize("steps", [SLIDE, BARE])
def test_one_string_of_two_a_semitone_off_is_a_wrong_note(steps: tuple[str, ...]) -> None:
    take, strokes = _played(*steps)
    strokes[1, 5].detune(1.0)
    report = take.report()
    assert _found(report) == [True, True]
    assert faults(report) == {("1", 1, 5): ["wrong-note"]}


def test_a_harmonic_that_did_not_sound() -> None:
    """Touched at half its length a string sounds an octave up; open it is 1200 cents too low."""
    take, strokes = _played(
        "beat = 1, fret = 5, pick = [5], harmonic = 12", "beat = 3, fret = 7, pick = [4]", "beat = 5, pick = [3]"
    )
    strokes[1, 5].detune(-12.0)
    report = take.report()
    assert faults(report) == {("1", 1, 5): ["wrong-note"]}
    assert checkpoint(report, "1", 1, 5)["cause"] == "harmonic did not sound"


# picks: in time


@pytest.mark.parametrize(
    ("late_s", "wanted"),
    [(0.07, []), (-0.07, []), (0.3, ["late"]), (-0.3, ["early"]), (0.9, ["late"]), (-0.9, ["early"])],
)
def test_a_pick_in_time_or_not(late_s: float, wanted: list[str]) -> None:
    take, strokes = _played(*SLIDE)
    strokes[3, 4].strike_later(late_s)
    report = take.report()
    found = checkpoint(report, "1", 3, 4)
    assert found["faults"] == wanted
    assert found["timing_ms"] == pytest.approx(1000.0 * late_s, abs=5.0 if wanted else 30.0)


def test_of_two_picks_that_disagree_the_first_is_in_time() -> None:
    """Either explains the other as one mistake."""
    take = Take(
        lesson_of(
            figure_of("1", 6, "beat = 1, fret = 3, pick = [5]", "beat = 3, fret = 5, pick = [5]", "beat = 5, fret = 3")
            + figure_of("2", 4, "beat = 1, fret = 3, pick = [5]", "beat = 3, pick = [6], ring = true")
        )
    )
    take.play("1", 1.0)
    take.play("2", 9.0)[2, 6].shift(-0.2)
    assert faults(take.report()) == {("2", 2, 6): ["early"]}


def test_a_figure_does_not_lie_where_less_of_it_is_heard() -> None:
    """Two early picks agree with each other; were they in time, a third would be too late to be heard at all, and its
    move, which is not judged then, would be one mistake less."""
    steps = (
        "beat = 1, fret = 3, pick = [5]",
        "beat = 2, fret = 5, pick = [4]",
        "beat = 3, fret = 3, pick = [6]",
        "beat = 3.5, fret = 8",
        "beat = 4, pick = [5]",
        "beat = 5, fret = 6",
        "beat = 5.5, pick = [4]",
    )
    take = Take(lesson_of(figure_of("1", 6, *steps) + figure_of("2", 6, *steps[:5])))
    strokes = take.play("1", 1.0)
    take.play("2", 9.0)
    strokes[3, 6].detune(0.4)
    for early in ((2, 4), (5, 5)):
        strokes[early].shift(-0.3)
    assert faults(take.report()) == {
        ("1", 2, 4): ["early"],
        ("1", 3, 6): ["sharp"],
        ("1", 4, 6): ["sharp"],
        ("1", 5, 5): ["early"],
        ("1", 6, 5): ["early"],
    }


def test_a_pick_more_than_a_beat_late_is_missed() -> None:
    take, strokes = _played(*SLIDE)
    strokes[3, 4].strike_later(1.2)
    assert faults(take.report()) == {("1", 3, 4): ["missed"]}


@pytest.mark.parametrize("late_s", [0.1, 0.12, 0.16])
def test_one_string_of_a_grip_late_is_late(late_s: float) -> None:
    take, strokes = _played(*SLIDE)
    strokes[1, 5].strike_later(late_s)
    report = take.report()
    assert faults(report) == {("1", 1, 5): ["late"]}
    assert checkpoint(report, "1", 1, 5)["timing_ms"] == pytest.approx(1000.0 * late_s, abs=20.0)


def test_a_grip_struck_at_once_instead_of_rolled() -> None:
    take, strokes = _played(
        "beat = 1, fret = 5, pick = [5, 4, 3], roll = 0.25",
        "beat = 3, fret = 7, pick = [6, 5, 4], roll = 0.1",
        'beat = 5, block = "all"',
        "beat = 6, pick = [5]",
    )
    for string in (4, 3):
        strokes[1, string].start_s = strokes[1, 5].start_s
    report = take.report()
    assert faults(report) == {("1", 1, 4): ["early"], ("1", 1, 3): ["early"]}
    assert checkpoint(report, "1", 1, 4)["timing_ms"] == pytest.approx(-250.0, abs=5.0)
    assert checkpoint(report, "1", 1, 3)["timing_ms"] == pytest.approx(-500.0, abs=5.0)


@pytest.mark.parametrize("late_s", [-0.3, 0.3])
def test_the_start_of_a_swell_is_not_judged(late_s: float) -> None:
    take, strokes = _played("beat = 1, fret = 5, pick = [5, 6]", "beat = 3, fret = 7, pick = [4], swell = true")
    strokes[2, 4].strike_later(late_s)
    assert take.report()["clean"] is True


@pytest.mark.parametrize(("late_s", "wanted"), [(0.035, {}), (0.06, {("1", 6, 6): ["late"]})])
def test_no_tolerance_is_wider_than_a_quarter_of_the_gap(
    late_s: float, wanted: dict[tuple[str, int, int], list[str]]
) -> None:
    """Half beats at 180 are 167 ms apart: a quarter is 42 ms, half of the 80 ms that a slow pick has."""
    steps = [f"beat = {1 + i * 0.5}, fret = 3, pick = [{4 + i % 3}]" for i in range(12)]
    take = Take(lesson_of(figure_of("1", 8, *steps), tempo=180))
    take.play("1", 1.0)[6, 6].strike_later(late_s)
    assert faults(take.report()) == wanted


# picks and arrivals: in tune


@pytest.mark.parametrize(
    ("semitones", "wanted"),
    [
        (0.13, []),
        (-0.13, []),
        (0.17, ["sharp"]),
        (-0.17, ["flat"]),
        (0.57, ["sharp"]),
        (-0.57, ["flat"]),
        (0.63, ["wrong-note"]),
        (-0.63, ["wrong-note"]),
    ],
)
def test_a_pick_in_tune_or_not(semitones: float, wanted: list[str]) -> None:
    take, strokes = _played(*SLIDE)
    strokes[3, 4].detune(semitones)
    found = checkpoint(take.report(), "1", 3, 4)
    assert found["faults"] == wanted
    assert found["cents"] == pytest.approx(100.0 * semitones, abs=1.0)
    assert found["heard_midi"] == pytest.approx(64 + 5 + semitones, abs=0.01)


def test_a_bar_a_little_flat_is_named() -> None:
    take, strokes = _played(*GRIPS)
    strokes[2, 5].detune(-0.3)
    strokes[2, 6].detune(-0.3)
    report = take.report()
    assert faults(report) == {("1", step, string): ["flat"] for step in (2, 3) for string in (5, 6)}
    assert checkpoint(report, "1", 2, 5)["cause"] == "bar 30 cents flat"


def test_a_slide_that_goes_too_far_is_sharp() -> None:
    take, strokes = _played(*GRIPS)
    for string, low in ((5, 59 + 8), (6, 56 + 8)):
        strokes[2, string].points = [(t, m + 0.5 * (m > low)) for t, m in strokes[2, string].points]
    report = take.report()
    assert faults(report) == {("1", 3, 5): ["sharp"], ("1", 3, 6): ["sharp"]}
    assert checkpoint(report, "1", 3, 5)["cause"] == "bar 50 cents sharp"


def test_a_slide_to_another_fret_beyond_is_a_wrong_note() -> None:
    take, strokes = _played(*GRIPS)
    for string, low in ((5, 59 + 8), (6, 56 + 8)):
        strokes[2, string].points = [(t, m + 3.0 * (m > low)) for t, m in strokes[2, string].points]
    report = take.report()
    assert faults(report) == {("1", 3, 5): ["wrong-note"], ("1", 3, 6): ["wrong-note"]}
    assert checkpoint(report, "1", 3, 5)["cause"] == "bar at 13, not 10"


def test_a_move_of_less_than_half_a_semitone_ends_the_settled_part() -> None:
    take, _ = _played(
        "beat = 1, fret = 3, pick = [5, 6]", "beat = 2, fret = 3.3", "beat = 3, fret = 5", 'beat = 7, block = "all"'
    )
    report = take.report()
    assert checkpoint(report, "1", 1, 5)["heard_midi"] == pytest.approx(59 + 3, abs=0.01)
    assert report["clean"] is True


def test_a_pitch_too_short_to_settle_is_null() -> None:
    """Struck and silenced within 120 ms, less the first 60 ms, leaves under 80 ms."""
    take, strokes = _played(*SLIDE)
    strokes[3, 4].end_s = strokes[3, 4].start_s + 0.12
    found = checkpoint(take.report(), "1", 3, 4)
    assert (found["heard_midi"], found["cents"], found["faults"]) == (None, None, ["cut-short"])
    assert found["heard_s"] == pytest.approx(5.0, abs=0.005)


# arrivals: made or not, in time


@pytest.mark.parametrize("late_s", [0.15, 0.3, 0.5, 0.7, 0.8, 0.9, -0.15, -0.3, -0.6, -0.9])
def test_an_arrival_out_of_time_tells_by_how_much(late_s: float) -> None:
    take, strokes = _played(*BARE)
    for string in (5, 6):
        strokes[1, string].delay_moves(late_s)
    report = take.report()
    word = "late" if late_s > 0 else "early"
    assert faults(report) == {("1", 2, 5): [word], ("1", 2, 6): [word]}
    assert checkpoint(report, "1", 2, 5)["timing_ms"] == pytest.approx(1000.0 * late_s, abs=8.0)


@pytest.mark.parametrize("late_s", [0.3, 0.4, 0.45])
def test_a_late_arrival_before_another_one_tells_by_how_much(late_s: float) -> None:
    """The next arrival is a beat later, so half a beat is searched."""
    take, strokes = _played(
        "beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5", "beat = 4, fret = 8", 'beat = 7, block = "all"'
    )
    for string, low in ((5, 59 + 3), (6, 56 + 3)):
        arrives = 3.0 + late_s
        strokes[1, string].points = [(arrives - 0.25, low), (arrives, low + 2), (3.75, low + 2), (4.0, low + 5)]
    report = take.report()
    assert faults(report) == {("1", 2, 5): ["late"], ("1", 2, 6): ["late"]}
    assert checkpoint(report, "1", 2, 5)["timing_ms"] == pytest.approx(1000.0 * late_s, abs=8.0)


def test_a_move_that_takes_longer_is_heard_when_it_ends() -> None:
    take, strokes = _played(*PEDALS)
    for string in (5, 6):
        points = strokes[1, string].points
        low = points[0][1]
        strokes[1, string].points = [(t + 0.3 * (m != low), m) for t, m in points]
    report = take.report()
    assert faults(report) == {("1", 2, 5): ["late"], ("1", 2, 6): ["late"]}
    assert checkpoint(report, "1", 2, 5)["timing_ms"] == pytest.approx(300.0, abs=8.0)


def test_a_pedal_not_pressed_is_a_missed_move_and_named() -> None:
    take, strokes = _played(*PEDALS)
    strokes[1, 5].stay()
    report = take.report()
    assert faults(report) == {("1", 2, 5): ["missed-move"]}
    found = checkpoint(report, "1", 2, 5)
    assert (found["heard_s"], found["timing_ms"], found["cause"]) == (None, None, "A not down")
    assert found["heard_midi"] == pytest.approx(59 + 3, abs=0.01)
    assert found["cents"] == pytest.approx(-200.0, abs=1.0)
    assert checkpoint(report, "1", 3, 5)["judged"] is False
    assert checkpoint(report, "1", 3, 6)["judged"] is True


def test_a_pedal_not_released_is_a_missed_move() -> None:
    take, strokes = _played(*PEDALS)
    strokes[1, 5].points = [point for point in strokes[1, 5].points if point[0] < 4.2]
    report = take.report()
    assert faults(report) == {("1", 3, 5): ["missed-move"]}
    assert checkpoint(report, "1", 3, 5)["cause"] == "A still down"


def test_a_bar_that_does_not_move() -> None:
    take, strokes = _played(*SLIDE)
    strokes[1, 5].stay()
    strokes[1, 6].stay()
    report = take.report()
    assert faults(report) == {("1", 2, 5): ["missed-move"], ("1", 2, 6): ["missed-move"]}
    assert checkpoint(report, "1", 2, 5)["cause"] == "bar did not move"


@pytest.mark.parametrize(
    ("moved", "share"),
    [("fret = 3.5", 0.0), ("fret = 3.5", 0.4), ("fret = 4", 0.45), ('down = { "A" = 0.25, "B" = 0.5 }', 0.0)],
)
def test_a_small_move_that_ends_nearer_to_where_it_began_is_missed(moved: str, share: float) -> None:
    """It is less off than another note would be, but it did not come."""
    take, strokes = _played("beat = 1, fret = 3, pick = [5, 6]", f"beat = 4, {moved}", 'beat = 7, block = "all"')
    for stroke in strokes.values():
        low = stroke.points[0][1]
        stroke.points = [(time_s, low + share * (midi - low)) for time_s, midi in stroke.points]
    report = take.report()
    assert faults(report) == {("1", 2, 5): ["missed-move"], ("1", 2, 6): ["missed-move"]}


def test_a_string_that_was_in_place_before_its_move_could_be_heard_has_not_missed_it() -> None:
    """It is struck 55 cents up on its way of a semitone, where its first pitch is too short to be judged."""
    take, strokes = _played("beat = 1, fret = 3, pick = [5]", "beat = 1.1, fret = 4, over = 0.1")
    strokes[1, 5].points = [(1.0, 59 + 3.55)]
    report = take.report()
    assert faults(report) == {("1", 2, 5): ["flat"]}
    found = checkpoint(report, "1", 2, 5)
    assert (found["judged"], found["heard_s"]) == (True, None)
    assert found["cents"] == pytest.approx(-45.0, abs=1.0)


def test_a_move_that_comes_only_with_the_next_one_is_missed() -> None:
    take, strokes = _played(
        "beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5", "beat = 4, fret = 8", 'beat = 7, block = "all"'
    )
    for string, low in ((5, 59 + 3), (6, 56 + 3)):
        strokes[1, string].points = [(1.0, low), (3.75, low), (4.0, low + 5)]
    report = take.report()
    assert faults(report) == {("1", 2, 5): ["missed-move"], ("1", 2, 6): ["missed-move"]}
    assert checkpoint(report, "1", 3, 5)["judged"] is False


def test_a_slant_not_made() -> None:
    steps = (
        "beat = 1, fret = 5, pick = [5, 6]",
        "beat = 3, slant = { 5 = 5, 6 = 6 }, over = 0.5",
        "beat = 5, fret = 8",
    )
    take, strokes = _played(*steps)
    strokes[1, 6].stay()
    assert faults(take.report()) == {("1", 2, 6): ["missed-move"]}


@pytest.mark.parametrize(
    "steps",
    [
        ('beat = "3 1/2", down = ["A"], over = 0.25', "beat = 4, fret = 7, over = 2"),
        ("beat = 3, fret = 5, over = 0.5", 'beat = "3 1/4", down = ["A", "B"], over = 0.5'),
    ],
)
def test_bar_and_pedals_that_move_at_the_same_time_add(steps: tuple[str, str]) -> None:
    take, _ = _played("beat = 1, fret = 3, pick = [5, 6]", *steps, 'beat = 7, block = "all"')
    assert faults(take.report()) == {}


# ends


@pytest.mark.parametrize(("end_s", "wanted"), [(5.8, ["cut-short"]), (6.2, [])])
def test_a_string_silenced_before_half_its_time(end_s: float, wanted: list[str]) -> None:
    """String 4 is picked at 5 s and blocked at 7 s."""
    take, strokes = _played(*SLIDE)
    strokes[3, 4].end_s = end_s
    assert checkpoint(take.report(), "1", 3, 4)["faults"] == wanted


@pytest.mark.parametrize(("end_s", "wanted"), [(7.45, []), (7.55, ["rang-on"])])
def test_a_string_that_rings_on_past_its_block(end_s: float, wanted: list[str]) -> None:
    """Half a beat is longer here than 250 ms."""
    take, strokes = _played(*SLIDE)
    strokes[3, 4].end_s = end_s
    assert checkpoint(take.report(), "1", 3, 4)["faults"] == wanted


def test_a_string_that_rings_on_past_the_pick_that_blocks_it() -> None:
    take, strokes = _played(*SLIDE)
    strokes[1, 6].end_s = 5.0 + 0.55
    report = take.report()
    assert faults(report) == {("1", 2, 6): ["rang-on"]}
    assert extras(report) == []


def test_a_kept_string_does_not_ring_on() -> None:
    steps = (
        "beat = 1, fret = 3, pick = [5, 6]",
        "beat = 3, pick = [4], ring = true",
        "beat = 5, fret = 5, pick = [3], ring = [4]",
    )
    take, strokes = _played(*steps)
    strokes[1, 5].end_s = 6.9
    assert faults(take.report()) == {("1", 1, 5): ["rang-on"]}


def test_a_string_that_did_not_move_may_ring_on_as_well() -> None:
    take, strokes = _played(*SLIDE)
    strokes[1, 5].stay()
    strokes[1, 5].end_s = 7.5
    found = faults(take.report())
    assert "missed-move" in found["1", 2, 5]
    assert "rang-on" in found["1", 2, 5]


# unisons


UNISON = (
    'beat = 1, fret = 3, down = ["LKR"], pick = [2, 4]',
    "beat = 3, fret = 5",
    'beat = 5, block = "all"',
)
"""The lever makes E of string 4 a D#, as string 2 has it."""


@pytest.mark.parametrize("silent", [2, 4])
def test_one_of_two_in_unison_is_enough(silent: int) -> None:
    take, strokes = _played(*UNISON)
    take.leave_out(strokes[1, silent])
    assert take.report()["clean"] is True


# extras


def test_a_string_that_nobody_asked_for_is_an_extra_note() -> None:
    take, _ = _played(*SLIDE)
    take.strike(8, 2.5, 3.0, 52 + 3)
    report = take.report()
    assert faults(report) == {}
    assert report["figures"][0]["extras"] == [{"fault": "extra-note", "at_s": 2.5, "string": 8, "midi": 55.0}]
    assert report["clean"] is False


def test_a_ringing_string_struck_again_is_an_extra_pick() -> None:
    take, strokes = _played(*SLIDE)
    _again(take, strokes[1, 5], 2.5)
    report = take.report()
    assert faults(report) == {}
    assert extras(report) == [("1", "extra-pick", 5)]
    assert report["figures"][0]["extras"][0]["at_s"] == pytest.approx(2.5, abs=0.001)


def test_each_string_struck_again_is_one_extra_pick() -> None:
    take, strokes = _played(*SLIDE)
    _again(take, strokes[1, 5], 2.5)
    _again(take, strokes[1, 6], 2.5)
    assert sorted(extras(take.report())) == [("1", "extra-pick", 5), ("1", "extra-pick", 6)]


def test_picking_again_during_a_move_is_an_extra_pick_and_spoils_no_arrival() -> None:
    take, strokes = _played(*SLIDE)
    _again(take, strokes[1, 5], 3.75)
    report = take.report()
    assert faults(report) == {}
    assert extras(report) == [("1", "extra-pick", 5)]
    assert checkpoint(report, "1", 2, 5)["timing_ms"] == pytest.approx(0.0, abs=8.0)


def test_a_note_in_the_rests_of_a_figure_is_an_extra() -> None:
    take, _ = _played(*SLIDE)
    take.strike(8, 8.2, 8.6, 52 + 5)
    assert extras(take.report()) == [("1", "extra-note", 8)]


# what one figure does to the next


def test_a_string_left_ringing_takes_nothing_from_the_next_figure() -> None:
    """String 5 stays where it was and rings into the rest; the figure that follows is played as written."""
    take = Take(lesson_of(figure_of("1", 8, *BARE) + SECOND))
    string = take.play("1", 1.0)[1, 5]
    take.play("2", 9.5)
    string.stay()
    string.end_s = 9.4
    report = take.report()
    assert {key for key in faults(report) if key[0] == "2"} == set()


# what was lost in the noise


def _score_and_judge(*steps: str, blur_s: float = 0.0) -> tuple[TimedScore, Judge]:
    lesson = read_lesson(lesson_of(figure_of("1", 8, *steps)), "lesson.toml", load_copedent)
    score = TimedScore(expect(lesson.figures[0], lesson.copedent), 1.0, 1.0)
    return score, Judge(lesson.copedent, load_tolerances("standard"), blur_s)


@pytest.mark.parametrize(
    ("faded_s", "judged"),
    [
        (3.6, False),  # before the move
        (4.05, False),  # as it might still come late
        (4.12, False),  # when it should have come, but where it was then cannot be told
        (4.3, True),  # when it should long have come
        (None, True),
    ],
)
def test_of_a_string_that_had_died_away_nothing_is_said(faded_s: float | None, judged: bool) -> None:
    """It was heard where it was picked, and not on the way to where it should go."""
    score, judge = _score_and_judge(*SLIDE)
    times_s = np.arange(1.1, 4.9, 0.05)
    heard = [HeardNote(5, 1.0, 5.0, times_s, np.full(len(times_s), 62.0), faded_s=faded_s)]
    pick, move = (c for c in judge.judge(score, heard).checkpoints if c.string == 5)
    assert pick.right
    assert (move.judged, move.faults) == (judged, ("missed-move",) if judged else ())


@pytest.mark.parametrize(("faded_s", "judged"), [(4.1, False), (4.3, True)])
def test_of_a_string_that_died_away_as_it_arrived_nothing_is_said(faded_s: float, judged: bool) -> None:
    """A semitone sharp, which nobody can tell before it has come to rest."""
    score, judge = _score_and_judge(*SLIDE)
    times_s = np.arange(1.1, 4.9, 0.05)
    heard = [HeardNote(5, 1.0, 5.0, times_s, np.interp(times_s, [3.5, 4.0], [62.0, 65.0]), faded_s=faded_s)]
    _, move = (c for c in judge.judge(score, heard).checkpoints if c.string == 5)
    assert (move.judged, move.faults) == (judged, ("wrong-note",) if judged else ())


# what came to rest nowhere


@pytest.mark.parametrize(
    ("arrives_s", "ends_s", "blur_s", "told"),
    [
        (4.3, 4.36, 0.0, ("late", "cut-short")),  # messages are certain
        (4.3, 4.36, 0.02, None),
        (4.3, 4.6, 0.02, ("late",)),
        (4.0, 4.06, 0.02, ("cut-short",)),  # in time, wherever it was to settle
        (9.0, 4.06, 0.0, ("missed-move",)),
        (9.0, 4.06, 0.02, None),
        (9.0, 4.6, 0.02, ("missed-move",)),
    ],
)
def test_in_sound_a_move_is_late_or_missed_only_where_the_string_was_heard_to_settle(
    arrives_s: float, ends_s: float, blur_s: float, told: tuple[str, ...] | None
) -> None:
    score, judge = _score_and_judge(*SLIDE, blur_s=blur_s)
    times_s = np.arange(1.1, ends_s, 0.01)
    midis = np.interp(times_s, [arrives_s - 0.1, arrives_s], [62.0, 64.0])
    _, move = (c for c in judge.judge(score, [HeardNote(5, 1.0, ends_s, times_s, midis)]).checkpoints if c.string == 5)
    assert (move.judged, move.faults) == (told is not None, told or ())
