"""Where one string's moves arrived, read from curves that are known exactly: straight lines between points.

What is written and what is played are told apart on purpose; a beat is a second and beat 1 is at one second, so a
beat's number is its time. String 5 of the E9 neck is B3, MIDI 59 (MIDI 1.0: middle C is 60).
"""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.score import TimedScore
from livecheck.judging.verdicts.arrivals import Arrivals
from livecheck.judging.verdicts.chain import Chain
from livecheck.lesson.expectation import expect
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import load_copedent
from tests.judging.midi_player import figure_of, lesson_of

Points = list[tuple[float, float]]
SLIDE = ("beat = 1, fret = 3, pick = [5]", "beat = 4, fret = 5, over = 0.5")
BOTH = ("beat = 1, fret = 3, pick = [5]", 'beat = "3 1/2", down = ["A"]', "beat = 4, fret = 7, over = 2")


def _arrivals(steps: tuple[str, ...], points: Points, end_s: float = 9.0, vibrato: float = 0.0) -> Arrivals:
    lesson = read_lesson(lesson_of(figure_of("1", 8, *steps)), "lesson.toml", load_copedent)
    expectation = expect(lesson.figures[0], lesson.copedent)
    times = np.arange(points[0][0], end_s, 0.005)
    at, pitches = np.array(points).T
    midis = np.interp(times, at, pitches) + vibrato * np.sin(2.0 * np.pi * 5.5 * times)
    heard = HeardNote(5, points[0][0], end_s, times, midis)
    return Arrivals(expectation.notes[0], Chain((heard,)), TimedScore(expectation, 1.0, 1.0), 0.0)


def _ends_s(found: Arrivals) -> list[float | None]:
    return [None if glide is None else glide.end_s for glide in found.glides[1:]]


@pytest.mark.parametrize("vibrato", [0.0, 0.35])
@pytest.mark.parametrize("late_s", [-0.9, -0.3, 0.0, 0.25, 0.7, 0.9])
def test_a_slide_ends_where_its_glide_meets_the_new_pitch(late_s: float, vibrato: float) -> None:
    found = _arrivals(SLIDE, [(1.0, 62.0), (3.5 + late_s, 62.0), (4.0 + late_s, 64.0)], vibrato=vibrato)
    assert _ends_s(found) == [pytest.approx(4.0 + late_s, abs=0.05 if vibrato else 0.01)]
    assert found.settled(1, 4.0 + late_s) == pytest.approx(64.0, abs=0.02 if vibrato else 0.001)


@pytest.mark.parametrize(("early_s", "heard_s"), [(0.0, 2.0), (0.3, 2.0), (0.3, 2.1)])
def test_a_move_s_pitch_is_where_it_rests_though_the_next_sets_out_early(early_s: float, heard_s: float) -> None:
    """Two moves down, the second the longer one: what it makes too soon is no part of the first."""
    steps = ("beat = 1, fret = 9, pick = [5]", "beat = 2, fret = 8", "beat = 3, fret = 3, over = 0.5")
    begin_s = 2.6 - early_s
    found = _arrivals(steps, [(1.0, 68.0), (heard_s - 0.25, 68.0), (heard_s, 67.0), (begin_s, 67.0), (3.0, 62.0)])
    assert _ends_s(found) == [pytest.approx(heard_s, abs=0.02), pytest.approx(3.0, abs=0.02)]
    assert found.settled(1, heard_s) == pytest.approx(67.0, abs=0.02)


def test_a_string_moves_from_where_it_stayed_not_from_what_it_slid_through_as_it_was_picked() -> None:
    """It is a quarter of a semitone sharp, and was right on its way there."""
    points = [(1.0, 61.96), (1.03, 61.96), (1.1, 62.28), (3.5, 62.28), (4.0, 64.0)]
    (glide,) = _arrivals(SLIDE, points).glides[1:]
    assert glide is not None
    assert glide.from_midi == pytest.approx(62.28, abs=0.02)


def test_a_slide_that_comes_after_its_window_did_not_come() -> None:
    assert _ends_s(_arrivals(SLIDE, [(1.0, 62.0), (4.8, 62.0), (5.3, 64.0)])) == [None]


@pytest.mark.parametrize("early_s", [0.0, 0.4, 0.55, 0.7])
def test_a_move_was_made_though_the_next_one_came_early(early_s: float) -> None:
    """Half of the way from move to move is searched for each: the second has begun, or is over, where the first is."""
    steps = (*SLIDE, "beat = 5.5, fret = 8, over = 0.5")
    points = [(1.0, 62.0), (3.5, 62.0), (4.0, 64.0), (5.0 - early_s, 64.0), (5.5 - early_s, 67.0)]
    assert _ends_s(_arrivals(steps, points)) == [pytest.approx(4.0, abs=0.01), pytest.approx(5.5 - early_s, abs=0.01)]


def test_a_move_begins_where_the_one_before_went_astray() -> None:
    """It should have gone down, went up, and was then taken on in time: what it made too soon is no part of that."""
    steps = ("beat = 1, fret = 6, pick = [5]", "beat = 3, fret = 5, over = 0.5", "beat = 4, fret = 10")
    found = _arrivals(steps, [(1.0, 65.0), (2.5, 65.0), (3.0, 66.0), (3.75, 66.0), (4.0, 69.0)])
    assert _ends_s(found) == [None, pytest.approx(4.0, abs=0.02)]
    assert found.settled(1, 3.0) == pytest.approx(66.0, abs=0.02)


def test_a_string_that_was_lost_moves_on_from_where_it_is_heard_again() -> None:
    """It fades before the second step, and is struck again once it is there: the third takes it on from there."""
    steps = ("beat = 1, fret = 6, pick = [5]", "beat = 3, fret = 5, over = 0.25", "beat = 5, fret = 4, over = 0.25")
    lesson = read_lesson(lesson_of(figure_of("1", 8, *steps)), "lesson.toml", load_copedent)
    expectation = expect(lesson.figures[0], lesson.copedent)
    before, after = np.arange(1.0, 2.5, 0.005), np.arange(4.5, 8.0, 0.005)
    first = HeardNote(5, 1.0, 4.5, before, np.full(len(before), 65.0), faded_s=2.5)
    second = HeardNote(5, 4.5, 8.0, after, np.interp(after, [4.75, 5.0], [64.0, 63.0]))
    found = Arrivals(expectation.notes[0], Chain((first, second)), TimedScore(expectation, 1.0, 1.0), 0.0)
    assert _ends_s(found) == [None, pytest.approx(5.0, abs=0.02)]
    assert found.settled(2, 5.0) == pytest.approx(63.0, abs=0.02)


def test_a_string_that_stays_has_no_glide() -> None:
    assert _ends_s(_arrivals(SLIDE, [(1.0, 62.0)])) == [None]


@pytest.mark.parametrize(("bar_late_s", "pedal_late_s"), [(0.0, 0.0), (0.12, 0.0), (0.0, 0.1), (0.1, 0.1)])
def test_bar_and_pedal_that_overlap_are_told_apart(bar_late_s: float, pedal_late_s: float) -> None:
    times = np.arange(1.0, 9.0, 0.01)
    bar = np.interp(times, (2.0 + bar_late_s, 4.0 + bar_late_s), (0.0, 4.0))
    pedal = np.interp(times, (3.25 + pedal_late_s, 3.5 + pedal_late_s), (0.0, 2.0))
    points = list(zip(times.tolist(), (62.0 + bar + pedal).tolist(), strict=True))
    ends_s = _ends_s(_arrivals(BOTH, points))
    assert ends_s == [pytest.approx(3.5 + pedal_late_s, abs=0.03), pytest.approx(4.0 + bar_late_s, abs=0.03)]


@pytest.mark.parametrize(("bar", "pedal", "came"), [(4.0, 0.0, [False, True]), (0.0, 2.0, [True, False])])
def test_of_two_that_overlap_one_may_not_have_come(bar: float, pedal: float, came: list[bool]) -> None:
    times = np.arange(1.0, 9.0, 0.01)
    midis = 62.0 + np.interp(times, (2.0, 4.0), (0.0, bar)) + np.interp(times, (3.25, 3.5), (0.0, pedal))
    found = _arrivals(BOTH, list(zip(times.tolist(), midis.tolist(), strict=True)))
    assert [glide is not None for glide in found.glides[1:]] == came


def test_the_settled_part_ends_where_the_string_moves_on() -> None:
    found = _arrivals(SLIDE, [(1.0, 62.1), (3.5, 62.1), (4.0, 64.1)])
    assert found.settled(0, 1.0) == pytest.approx(62.1, abs=0.001)


def test_too_short_a_part_is_no_pitch() -> None:
    steps = ("beat = 1, fret = 3, pick = [5]", "beat = 1.2, fret = 5, over = 0.1", 'beat = 2, block = "all"')
    assert _arrivals(steps, [(1.0, 62.0), (1.1, 62.0), (1.2, 64.0)]).settled(0, 1.0) is None


@pytest.mark.parametrize("ends_s", [5.5, 6.0, 7.0])
def test_a_string_that_rings_on_and_leaves_with_the_bar_had_come_before(ends_s: float) -> None:
    """It should end with the next step, to which the bar takes it along."""
    steps = (*SLIDE, "beat = 5, fret = 9, over = 0.5, pick = [6]")
    found = _arrivals(steps, [(1.0, 62.0), (3.5, 62.0), (4.0, 64.0), (4.5, 64.0), (5.0, 68.0)], ends_s)
    assert _ends_s(found) == [pytest.approx(4.0, abs=0.01)]
    assert found.settled(1, 4.0) == pytest.approx(64.0, abs=0.001)
