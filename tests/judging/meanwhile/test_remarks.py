"""What is said of a figure while it is played on strings that are known: at once, and nothing when all is well."""

from __future__ import annotations

import math
from typing import Any

import pytest

from livecheck.engine import Brief, MidiEngine
from livecheck.hearing.midi.input import MidiInput
from livecheck.judging.meanwhile.remark import Remark
from livecheck.sources.library import load_tolerances
from tests.judging.midi_player import Stroke, Take, checkpoint, figure_of, lesson_of

TURN_S = 0.005
SOON_S = 0.02
"""What is certain is said so soon."""
LESSON = lesson_of(
    figure_of(
        "a", 10, "beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5, over = 0.5", "beat = 5, pick = [4]",
        "beat = 7, fret = 8, pick = [5, 8]", 'beat = 9, block = "all"',
    )
    + figure_of("b", 4, "beat = 1, fret = 8, pick = [3, 4]", "beat = 3, fret = 10, pick = [3]"),
    tempo=90,
)  # fmt: skip
BEAT_S = 60.0 / 90.0


def said(take: Take, retrigger: bool = False, turn_s: float = TURN_S, **brief: Any) -> list[tuple[float, Remark]]:
    """Every remark with the time at which it was made; asked at every message, and every `turn_s` in between."""
    lesson = take.lesson
    asked = Brief(lesson, lesson.figures, load_tolerances("standard"), **brief)
    engine = MidiEngine(asked, MidiInput({n: n for n in range(1, 11)}, retrigger=retrigger))
    found: list[tuple[float, Remark]] = []
    now_s = 0.0
    for time_s, message in take.messages():
        while now_s + turn_s < time_s:
            now_s += turn_s
            found += [(now_s, remark) for remark in engine.certain(now_s)]
        now_s = time_s
        engine.feed(time_s, message)
        found += [(now_s, remark) for remark in engine.certain(now_s)]
    return found


def gist(found: list[tuple[float, Remark]]) -> list[tuple[str, str, int | None, int | None]]:
    """Figure, fault, step and string of each."""
    verdicts = [remark.verdict for _, remark in found]
    return [(v.figure.name, fault, c.step, c.string) for v in verdicts for c in v.checkpoints for fault in c.faults] + [
        (v.figure.name, extra.fault, extra.step, extra.string) for v in verdicts for extra in v.extras
    ]


@pytest.mark.parametrize("tempo", [90, 75, 108])
@pytest.mark.parametrize("off_cents", [0.0, -20.0])
def test_nothing_is_said_of_what_is_right(tempo: float, off_cents: float) -> None:
    take = Take(LESSON, off_cents)
    end_s = 0.5
    for name in ("a", "b", "a", "a", "b", "b"):
        take.play(name, end_s, tempo)
        end_s = take.end_s(name, end_s, tempo) + 0.3
    assert said(take) == []


def test_a_wrong_note_is_said_at_once_and_why() -> None:
    take = Take(LESSON)
    played = take.play("a", 0.5)
    for string in (5, 8):
        played[4, string].detune(-1.0)
    ((at_s, remark),) = said(take)
    assert gist([(at_s, remark)]) == [("a", "wrong-note", 4, 5)]
    assert remark.verdict.checkpoints[0].cause == "bar at 7, not 8"
    assert remark.since_s == pytest.approx(0.5 + 6 * BEAT_S)
    assert at_s - remark.since_s < SOON_S


@pytest.mark.parametrize("reference_hz", [415.0, 432.0, 466.0])
def test_a_wrong_note_is_said_as_the_report_has_it_at_another_reference(reference_hz: float) -> None:
    off_cents = 1200.0 * math.log2(reference_hz / 440.0)
    take = Take(LESSON.replace("tempo", f"reference = {reference_hz}\ntempo", 1), off_cents)
    take.play("a", 0.5)[4, 5].detune(-1.0)
    ((_, remark),) = said(take)
    (remarked,) = remark.verdict.checkpoints
    reported = checkpoint(take.report(), "a", 4, 5)
    assert (remarked.faults, reported["faults"]) == (("wrong-note",), ["wrong-note"])
    assert remarked.expected_midi == pytest.approx(67.0 + off_cents / 100.0)
    assert remarked.expected_midi == pytest.approx(reported["expected_midi"], abs=0.001)


def test_a_missing_string_is_said_when_the_next_step_has_come() -> None:
    take = Take(LESSON)
    played = take.play("a", 0.5)
    take.leave_out(played[1, 6])
    ((at_s, remark),) = said(take)
    assert gist([(at_s, remark)]) == [("a", "missed", 1, 6)]
    # The next pick, or, if that is sooner, a beat after its own time, when it is no longer searched.
    assert remark.since_s == pytest.approx(0.5 + BEAT_S, abs=0.01)
    assert at_s - remark.since_s < SOON_S


def test_the_last_string_of_all_is_said_to_be_missing_when_it_is_no_longer_searched() -> None:
    take = Take(LESSON)
    played = take.play("a", 0.5)
    take.leave_out(played[4, 8])
    assert gist(said(take)) == [("a", "missed", 4, 8)]


@pytest.mark.parametrize(("string", "fault"), [(9, "extra-note"), (4, "extra-pick")])
def test_what_nobody_asked_for_is_said_at_once(string: int, fault: str) -> None:
    take = Take(LESSON)
    played = take.play("a", 0.5)
    at_s = 0.5 + 5 * BEAT_S
    if string == 4:
        played[3, 4].end_s = at_s - 0.01
    take.strike(string, at_s, at_s + 0.4, 69.0)
    ((told_s, remark),) = said(take)
    assert gist([(told_s, remark)]) == [("a", fault, 3, string)]
    assert told_s == pytest.approx(at_s)


def test_a_move_that_does_not_come_is_said_when_the_next_step_has() -> None:
    take = Take(LESSON)
    played = take.play("a", 0.5)
    for string in (5, 6):
        played[1, string].stay()
    found = said(take)
    assert gist(found)[0] == ("a", "missed-move", 2, 5)
    assert found[0][0] <= 0.5 + 4 * BEAT_S + SOON_S


def test_a_slide_to_the_wrong_fret_is_said_once_it_has_settled() -> None:
    take = Take(LESSON)
    played = take.play("a", 0.5)
    for string in (5, 6):
        stroke = played[1, string]
        stroke.points = [(time_s, midi + (time_s >= 0.5 + 2 * BEAT_S - 0.01)) for time_s, midi in stroke.points]
    ((at_s, remark),) = said(take)
    assert gist([(at_s, remark)]) == [("a", "wrong-note", 2, 5)]
    assert remark.verdict.checkpoints[0].cause == "bar at 6, not 5"
    assert at_s < 0.5 + 2 * BEAT_S + 0.06 + SOON_S


def test_time_is_said_with_a_click_only() -> None:
    take = Take(LESSON)
    played = take.play("a", 0.5)
    played[3, 4].strike_later(0.15)
    assert said(take) == []
    ((at_s, remark),) = said(take, timing="click", start_s=0.5)
    assert gist([(at_s, remark)]) == [("a", "late", 3, 4)]
    assert remark.verdict.checkpoints[0].timing_ms == pytest.approx(150.0, abs=1.0)
    assert at_s - remark.since_s < SOON_S


def test_what_is_flat_is_said_once_it_is_known_how_the_instrument_is_tuned() -> None:
    take = Take(LESSON, off_cents=-20.0)
    take.play("a", 0.5)
    begin_s = take.end_s("a", 0.5)
    played = take.play("b", begin_s)
    played[2, 3].detune(-0.25)
    ((_, remark),) = said(take)
    assert gist([(0.0, remark)]) == [("b", "flat", 2, 3)]


def test_a_string_that_slides_into_its_note_is_left_alone() -> None:
    take = Take(LESSON)
    played = take.play("a", 0.5)
    stroke = played[3, 4]
    target = stroke.points[0][1]
    stroke.points = [(stroke.start_s, target - 1.0), (stroke.start_s + 0.1, target), *stroke.points[1:]]
    assert said(take) == []


def test_who_starts_over_is_followed() -> None:
    take = Take(LESSON)
    played = take.play("a", 0.5)
    for key in ((3, 4), (4, 5), (4, 8)):
        take.leave_out(played[key])
    for stroke in take.strokes:
        stroke.end_s = min(stroke.end_s, 0.5 + 3 * BEAT_S)
    again = take.play("a", 0.5 + 3.4 * BEAT_S)
    again[4, 5].detune(1.0)
    assert gist(said(take)) == [("a", "wrong-note", 4, 5)]


def test_a_figure_whose_first_note_was_wrong_is_known_by_its_second_step() -> None:
    take = Take(LESSON)
    take.play("a", 0.5)
    begin_s = take.end_s("a", 0.5) + 1.0
    played = take.play("b", begin_s)
    for string in (3, 4):
        played[1, string].detune(-2.0)
    found = said(take)
    assert gist(found) == [("b", "wrong-note", 1, 3)]
    assert found[0][1].since_s == pytest.approx(begin_s + 2 * BEAT_S)


def test_of_a_source_that_retriggers_nothing_is_said_before_the_figure_has_ended() -> None:
    take = Take(LESSON)
    played = take.play("a", 0.5)
    played[4, 5].detune(-1.0)
    assert said(take, retrigger=True) == []


def wavering(stroke: Stroke, semitones: float, hz: float = 5.5) -> None:
    """Bends all the time around where the stroke is, from a tenth of a second on."""
    times_s = [stroke.start_s + 0.1 + 0.01 * n for n in range(round((stroke.end_s - stroke.start_s - 0.1) / 0.01))]
    around = [
        (time_s, stroke.midi_at(time_s) + semitones * math.sin(2.0 * math.pi * hz * (time_s - times_s[0])))
        for time_s in times_s
    ]
    stroke.points = [(stroke.start_s, stroke.midi_at(stroke.start_s)), *around]


@pytest.mark.parametrize("semitones", [0.0, 0.005, 0.3], ids=["still", "jitter", "vibrato"])
@pytest.mark.parametrize("turn_s", [TURN_S, 10.0], ids=["at leisure", "busy"])
def test_who_bends_all_the_time_is_right(semitones: float, turn_s: float) -> None:
    """As pickups do that tell the pitch a hundred times a second, whether it has changed or not."""
    take = Take(LESSON)
    end_s = 0.5
    for name in ("a", "b", "a"):
        for stroke in take.play(name, end_s).values():
            wavering(stroke, semitones)
        end_s = take.end_s(name, end_s) + BEAT_S
    assert said(take, turn_s=turn_s) == []
    assert said(take, turn_s=turn_s, timing="click", start_s=0.5) == []


@pytest.mark.parametrize("turn_s", [TURN_S, 10.0], ids=["at leisure", "busy"])
def test_a_pedal_that_comes_late_is_said_with_a_click(turn_s: float) -> None:
    take = Take(LESSON)
    played = take.play("a", 0.5)
    for string in (5, 6):
        wavering(played[1, string], 0.0)
        played[1, string].delay_moves(0.25)
    assert said(take, turn_s=turn_s) == []
    found = said(take, turn_s=turn_s, timing="click", start_s=0.5)
    assert gist(found) == [("a", "late", 2, 5), ("a", "late", 2, 6)]
    remarked, reported = found[0][1].verdict.checkpoints[0], checkpoint(take.report(timing="click"), "a", 2, 5)
    assert remarked.timing_ms == pytest.approx(reported["timing_ms"], abs=5.0)
    assert reported["faults"] == ["late"]
    if turn_s == TURN_S:
        assert found[0][0] - found[0][1].since_s < SOON_S


def test_what_moves_on_at_once_is_left_to_the_verdict() -> None:
    """The bar sets out as the pedal arrives: nowhere is the string at rest in between."""
    lesson = lesson_of(
        figure_of(
            "a", 8, "beat = 1, fret = 3, pick = [5]", 'beat = 3, down = ["A"], over = 0.5',
            "beat = 4, fret = 5, over = 1", "beat = 6, pick = [4]",
        ),
        tempo=90,
    )  # fmt: skip
    take = Take(lesson)
    take.play("a", 0.5)
    assert said(take) == []
    assert said(take, timing="click", start_s=0.5) == []
