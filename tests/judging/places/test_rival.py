"""Of equal notes the first may be wrong: the figure lies where it was begun, whatever comes before it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.score import TimedScore
from livecheck.judging.places.rival import elsewhere, rivals
from livecheck.judging.timing import Event, Line
from livecheck.judging.verdicts.judge import Judge
from livecheck.lesson.expectation import Expectation, expect
from livecheck.sources.library import load_tolerances
from tests.judging.midi_player import Take, extras, faults, figure_of, lesson_of

TEMPO = 90.0
LESSON = lesson_of(
    figure_of(
        "a", 6, "beat = 1, fret = 5, pick = [5, 6]", "beat = 2, fret = 7, pick = [5, 6]",
        "beat = 3, fret = 8, pick = [3, 4]",
    )
    + figure_of(
        "b", 6, "beat = 1, fret = 3, pick = [5]", "beat = 2, pick = [5]", "beat = 3, pick = [5]", "beat = 4, pick = [5]"
    ),
    tempo=TEMPO,
)  # fmt: skip

BETWEEN = 2
RISING = lesson_of(
    figure_of(
        "c", 8, "beat = 1, fret = 3, pick = [5]", f"beat = {1 + BETWEEN}, fret = 5, pick = [5]",
        f"beat = {1 + 2 * BETWEEN}, fret = 7, pick = [5]",
    ),
    tempo=TEMPO,
)  # fmt: skip


@pytest.mark.parametrize("timing", ["free", "click"])
@pytest.mark.parametrize("off_s", [-0.06, -0.012, 0.0, 0.012, 0.06])
@pytest.mark.parametrize("rest", [0, 1, 3])
@pytest.mark.parametrize(("string", "semitones"), [(6, -5.0), (4, 4.0), (4, 7.0)])
def test_the_first_of_equal_notes_is_the_figures_own_though_it_is_on_another_string(
    timing: str, off_s: float, rest: int, string: int, semitones: float
) -> None:
    """It is struck a beat before the second one, which was thought to be the first: what comes so early had been the
    figure's or that of the one before, or nobody's, as it was a little late or early."""
    take, at_s = Take(LESSON), 0.5 + (6 + rest) * 60.0 / TEMPO
    take.play("a", 0.5)
    first = take.play("b", at_s)[1, 5]
    take.leave_out(first)
    take.strike(string, first.start_s + off_s, first.end_s, first.points[0][1] + semitones)
    report = take.report(timing=timing)
    assert faults(report) == {("b", 1, 5): ["wrong-note"]}
    assert extras(report) == []


@pytest.mark.parametrize(("silent", "offs"), [((), []), ((2,), [-1, 1]), ((2, 3), [-1, 1, -2, 2])])
def test_a_figure_is_looked_for_no_more_notes_away_than_were_wrong(silent: tuple[int, ...], offs: list[int]) -> None:
    """Who took the second of equal notes for the first misses one at the end; so one mistake is none of two notes."""
    take = Take(LESSON)
    expectation = expect(take.figure("b"), take.lesson.copedent)
    line = Line(1.0, 60.0 / TEMPO)
    played = [note for index, note in enumerate(_heard(expectation, line)) if index not in silent]
    judge = Judge(take.lesson.copedent, load_tolerances("standard"), 0.0)
    judgement = judge.judge_briefly(TimedScore(expectation, line.start_s, line.beat_s), played)
    found = rivals(expectation, line, judgement, to_click=True)
    assert [round((one.start_s - line.start_s) / line.beat_s) for one in found] == offs


@pytest.mark.parametrize("to_click", [True, False])
@pytest.mark.parametrize(("semitones", "steps"), [({}, 1), ({1: -5.0}, 1), ({3: 4.0}, -1)])
def test_a_figure_whose_wrong_note_is_what_another_step_asks_is_looked_for_there(
    semitones: dict[int, float], steps: int, to_click: bool
) -> None:
    """Three notes, two beats apart, laid on the one after or before them: what was heard at their times is
    wrong there, and right elsewhere."""
    take = Take(RISING)
    expectation = expect(take.figure("c"), take.lesson.copedent)
    played = Line(1.0, 60.0 / TEMPO)
    line = Line(played.time_s(1.0 + BETWEEN * steps), played.beat_s)
    notes = _heard(expectation, played, semitones)
    judge = Judge(take.lesson.copedent, load_tolerances("standard"), 0.0)
    judgement = judge.judge_briefly(TimedScore(expectation, line.start_s, line.beat_s), notes)
    starts_s = [one.start_s for one in rivals(expectation, line, judgement, to_click)]
    assert any(start_s == pytest.approx(played.start_s, abs=0.01) for start_s in starts_s)


@pytest.mark.parametrize("to_click", [True, False])
def test_a_figure_is_looked_for_only_where_most_wrong_notes_are_what_other_steps_ask(to_click: bool) -> None:
    """Of two notes that take turns, each struck where the other is asked, any odd number of steps makes some right."""
    steps = (f"beat = {1 + at}, fret = {5 - 2 * (at % 2)}, pick = [5]" for at in range(16))
    take = Take(lesson_of(figure_of("c", 17, *steps), tempo=TEMPO))
    expectation = expect(take.figure("c"), take.lesson.copedent)
    line = Line(1.0, 60.0 / TEMPO)
    judge = Judge(take.lesson.copedent, load_tolerances("standard"), 0.0)
    notes = _heard(expectation, line, {1 + at: 4.0 * (at % 2) - 2.0 for at in range(16)})
    judgement = judge.judge_briefly(TimedScore(expectation, line.start_s, line.beat_s), notes)
    offs = [round((one.start_s - line.start_s) / line.beat_s) for one in rivals(expectation, line, judgement, to_click)]
    assert sorted(off for off in offs if off % 2) == [-1, 1]
    assert len(offs) == len(set(offs))


def test_a_figure_with_one_wrong_note_that_another_step_asks_stays_where_it_is() -> None:
    """Two of three are right where they are."""
    take = Take(RISING)
    expectation = expect(take.figure("c"), take.lesson.copedent)
    line = Line(1.0, 60.0 / TEMPO)
    judge = Judge(take.lesson.copedent, load_tolerances("standard"), 0.0)
    notes = _heard(expectation, line, {2: -2.0})
    judgement = judge.judge_briefly(TimedScore(expectation, line.start_s, line.beat_s), notes)
    assert [c.faults for c in judgement.checkpoints] == [(), ("wrong-note",), ()]
    assert rivals(expectation, line, judgement, to_click=False) == []


def _heard(expectation: Expectation, line: Line, semitones: Mapping[int, float] | None = None) -> list[HeardNote]:
    """A figure's notes as they are when nothing is wrong, but for those of some steps, so many semitones off."""
    off = semitones or {}
    return [
        HeardNote(
            note.string,
            times_s[0],
            times_s[-1],
            times_s,
            np.full(len(times_s), note.checkpoints[0].midi + off.get(note.checkpoints[0].step, 0.0)),
        )
        for note in expectation.notes
        for times_s in [np.arange(line.time_s(note.start_beat), line.time_s(note.end_beat) - 0.05, 0.01)]
    ]


def test_what_was_struck_long_before_another_place_speaks_against_it() -> None:
    """A bad start of equal notes is the figure's: three beats later it would lack its last three and none of the bad
    ones, but these were struck."""
    equal = (f"beat = {beat}, fret = 3, pick = [5]" for beat in range(1, 7))
    take = Take(lesson_of(figure_of("d", 8, *equal), tempo=TEMPO))
    strokes = take.play("d", 0.5)
    strokes[1, 5].detune(0.3)
    for step in (2, 3):
        strokes[step, 5].detune(1.0)
    for step in (1, 2):
        start_s = strokes[step, 5].start_s + 30.0 / TEMPO
        take.strike(5, start_s, strokes[step + 1, 5].start_s - 0.01, strokes[step, 5].points[0][1])
        strokes[step, 5].end_s = start_s - 0.01
    report = take.report()
    assert faults(report) == {("d", 1, 5): ["sharp"], ("d", 2, 5): ["wrong-note"], ("d", 3, 5): ["wrong-note"]}


def test_a_figure_lies_where_its_moves_agree_though_they_are_less_sharp_than_the_pick() -> None:
    """Its pick is a quarter of a second late, one move a little late, the other a little early: where the pick lies
    two mistakes are left, where the moves do one."""
    before = figure_of(
        "a", 6, "beat = 1, fret = 5, pick = [5]", "beat = 2, fret = 7, pick = [6]", "beat = 3, pick = [5]"
    )
    steps = ("beat = 1, fret = 3, pick = [5]", "beat = 3, fret = 5, over = 0.5", "beat = 5, fret = 8, over = 0.5")
    take = Take(lesson_of(before + figure_of("d", 8, *steps), tempo=TEMPO))
    take.play("a", 0.5)
    (stroke,) = take.play("d", take.end_s("a", 0.5)).values()
    stroke.strike_later(0.25)
    offs_s = (0.0, 0.04, 0.04, -0.04, -0.04, 0.0)
    stroke.points = [(time_s + off_s, midi) for (time_s, midi), off_s in zip(stroke.points, offs_s, strict=True)]
    assert faults(take.report()) == {("d", 1, 5): ["late"]}


def test_how_long_strings_were_held_is_none_of_the_mistakes_by_which_two_places_are_compared() -> None:
    take = Take(RISING)
    expectation = expect(take.figure("c"), take.lesson.copedent)
    line = Line(1.0, 60.0 / TEMPO)
    short = [replace(note, end_s=note.start_s + 0.2) for note in _heard(expectation, line)]
    judge = Judge(take.lesson.copedent, load_tolerances("standard"), 0.0)
    judgement = judge.judge_briefly(TimedScore(expectation, line.start_s, line.beat_s), short)
    assert {c.faults for c in judgement.checkpoints} == {("cut-short",)}
    assert judgement.mistakes == 0


@pytest.mark.parametrize(("weight", "count", "start_s"), [(1.0, 1, None), (0.7, 2, 0.8), (1.0, 4, 0.8)])
def test_by_what_was_heard_from_a_rival_a_figure_lies_there_if_half_as_much_agrees_with_that(
    weight: float, count: int, start_s: float | None
) -> None:
    """Of four events some agree with the line on which the figure lay, so many with the rival of that."""
    line, rival = Line(1.0, 1.0), Line(0.8, 1.0)
    lines, weights = [*[line] * (4 - count), *[rival] * count], [*[1.0] * (4 - count), *[weight] * count]
    events = [
        Event(float(beat), one.time_s(beat), each)
        for beat, (one, each) in enumerate(zip(lines, weights, strict=True), start=1)
    ]
    found = elsewhere(events, line, rival)
    assert (None if found is None else found.start_s) == (None if start_s is None else pytest.approx(start_s))
