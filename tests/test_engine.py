"""Every fault, planted in MIDI takes of one small lesson: MIDI is exact, so each verdict is wholly decided by the
definitions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import mido
import numpy as np
import pytest

from livecheck.engine import Brief, MidiEngine
from livecheck.errors import Unusable
from livecheck.hearing.midi.input import MidiInput
from livecheck.lesson.expectation import Note, expect
from livecheck.lesson.figure import Lesson
from livecheck.lesson.reading import read_lesson
from livecheck.reports.document import document_of
from livecheck.sources.library import load_copedent, load_tolerances
from tests.judging.midi_player import Take, extras, faults, figure_of, lesson_of

LESSON = """
format = 1
tempo = 90
copedent = "e9-ten-string"

[[figure]]
name = "a"
length = 6
steps = [
  { beat = 1, fret = 3, pick = [5, 6] },
  { beat = 3, fret = 5, over = 0.5 },
  { beat = 4, down = ["A"], over = 0.5 },
  { beat = 5, block = "all" },
]

[[figure]]
name = "b"
length = 6
steps = [
  { beat = 1, fret = 8, pick = [4, 5] },
  { beat = 2, fret = 8, pick = [3, 4] },
  { beat = 3, fret = 10, over = 0.5 },
  { beat = 4, fret = 10, pick = [6] },
  { beat = 5, fret = 8, pick = [8] },
]
"""
BEND_RANGE = 24
STARTS_S = {"a": 1.0, "b": 6.0}


@dataclass(frozen=True)
class Played:
    """One note of the take: what is played of an asked note."""

    string: int
    start_s: float
    end_s: float
    curve: Note
    late_s: float = 0.0
    """By how much its moves are late."""
    off: float = 0.0
    """Semitones by which it sounds elsewhere."""
    stays: bool = False


def _lesson() -> Lesson:
    return read_lesson(LESSON, "lesson.toml", load_copedent)


def _clean(lesson: Lesson, starts_s: Mapping[str, float] = STARTS_S) -> dict[tuple[str, int, int], Played]:
    """(figure, step, string) -> what a player without faults does."""
    notes = {}
    for figure in lesson.figures:
        if figure.name in starts_s:
            for note in expect(figure, lesson.copedent).notes:
                begin, end = (starts_s[figure.name] + (b - 1) * lesson.beat_s for b in (note.start_beat, note.end_beat))
                key = figure.name, note.checkpoints[0].step, note.string
                notes[key] = Played(note.string, begin, end - 0.01, note)
    return notes


def _graded(
    lesson: Lesson, notes: Mapping[tuple[str, int, int], Played], off: float = 0.0, **brief: Any
) -> dict[str, Any]:
    events: list[tuple[float, int, mido.Message]] = []
    for channel in range(10):
        for control, value in ((101, 0), (100, 0), (6, BEND_RANGE), (38, 0)):
            events.append((0.0, 0, mido.Message("control_change", channel=channel, control=control, value=value)))
    for (name, _, _), note in notes.items():
        channel = note.string - 1
        times = np.arange(note.start_s, note.end_s, 0.005)
        beats = (times - note.late_s - STARTS_S[name]) / lesson.beat_s + 1
        midis = note.curve.midi_at(np.full(len(beats), note.curve.start_beat) if note.stays else beats) + note.off + off
        key = round(float(midis[0]))
        for time_s, bend in zip(times, np.round((midis - key) / BEND_RANGE * 8192).astype(int), strict=True):
            events.append((float(time_s), 1, mido.Message("pitchwheel", channel=channel, pitch=int(bend))))
        events.append((note.start_s, 2, mido.Message("note_on", channel=channel, note=key, velocity=80)))
        events.append((note.end_s, 0, mido.Message("note_off", channel=channel, note=key)))
    engine = MidiEngine(
        Brief(lesson, lesson.figures, load_tolerances("standard"), **brief), MidiInput({n: n for n in range(1, 11)})
    )
    for time_s, _, message in sorted(events, key=lambda event: event[:2]):
        engine.feed(time_s, message)
    return dict(document_of(engine.finish("take.mid")))


def _faults(report: Mapping[str, Any]) -> dict[tuple[str, int, int], list[str]]:
    return {
        (figure["figure"], c["step"], c["string"]): c["faults"]
        for figure in report["figures"]
        for c in figure["checkpoints"]
        if c["faults"]
    }


def _extras(report: Mapping[str, Any]) -> list[tuple[str, str, int]]:
    return [(f["figure"], e["fault"], e["string"]) for f in report["figures"] for e in f["extras"]]


def _checkpoint(report: Mapping[str, Any], name: str, step: int, string: int) -> dict[str, Any]:
    figure = next(f for f in report["figures"] if f["figure"] == name)
    return next(c for c in figure["checkpoints"] if (c["step"], c["string"]) == (step, string))


def test_a_clean_take_is_clean() -> None:
    lesson = _lesson()
    report = _graded(lesson, _clean(lesson))
    assert report["clean"] is True
    assert report["tempo"] == pytest.approx(90.0, abs=0.3)
    assert [f["start_s"] for f in report["figures"]] == pytest.approx([1.0, 6.0], abs=0.01)


@pytest.mark.parametrize(
    ("key", "change", "wanted"),
    [
        (("b", 1, 5), None, {("b", 1, 5): ["missed"]}),
        (("b", 5, 8), {"start_s": 0.16, "end_s": 0.0}, {("b", 5, 8): ["late"]}),
        (("b", 5, 8), {"start_s": -0.16, "end_s": 0.0}, {("b", 5, 8): ["early"]}),
        (("b", 4, 6), {"off": 0.3}, {("b", 4, 6): ["sharp"]}),
        (("b", 4, 6), {"off": -0.3}, {("b", 4, 6): ["flat"]}),
        (("b", 4, 6), {"off": 1.0}, {("b", 4, 6): ["wrong-note"]}),
        (("b", 5, 8), {"end_s": -1.0}, {("b", 5, 8): ["cut-short"]}),
        (("a", 1, 6), {"end_s": 0.6}, {("a", 3, 6): ["rang-on"]} | {("a", 2, 6): ["rang-on"]}),
    ],
)
def test_each_fault_of_a_pick(
    key: tuple[str, int, int], change: dict[str, float] | None, wanted: dict[tuple[str, int, int], list[str]]
) -> None:
    lesson = _lesson()
    notes = _clean(lesson)
    note = notes.pop(key)
    if change is not None:
        moved = {name: value + getattr(note, name) for name, value in change.items()}
        notes[key] = replace(note, **moved)
    report = _graded(lesson, notes)
    found = _faults(report)
    assert found
    assert found.items() <= wanted.items()
    assert _extras(report) == []


def test_a_late_slide_is_late_by_so_much() -> None:
    lesson = _lesson()
    notes = _clean(lesson)
    for string in (3, 4):
        notes["b", 2, string] = replace(notes["b", 2, string], late_s=0.16)
    report = _graded(lesson, notes)
    assert _faults(report) == {("b", 3, 3): ["late"], ("b", 3, 4): ["late"]}
    assert _checkpoint(report, "b", 3, 3)["timing_ms"] == pytest.approx(160.0, abs=8.0)


def test_a_string_that_did_not_move_is_not_judged_further() -> None:
    lesson = _lesson()
    notes = _clean(lesson)
    notes["a", 1, 5] = replace(notes["a", 1, 5], stays=True)
    report = _graded(lesson, notes)
    assert _faults(report) == {("a", 2, 5): ["missed-move"]}
    assert _checkpoint(report, "a", 3, 5)["judged"] is False
    assert _checkpoint(report, "a", 2, 5)["heard_s"] is None


def test_another_string_in_its_place_is_a_wrong_note_with_its_cause() -> None:
    lesson = _lesson()
    notes = _clean(lesson)
    note = notes["b", 4, 6]
    notes["b", 4, 6] = replace(note, string=7, off=-2.0)
    report = _graded(lesson, notes)
    assert _faults(report) == {("b", 4, 6): ["wrong-note"]}
    assert _checkpoint(report, "b", 4, 6)["cause"] == "string 7 instead of 6"
    assert _extras(report) == []


def test_what_nobody_asked_for_is_an_extra() -> None:
    lesson = _lesson()
    notes = _clean(lesson)
    first = notes["a", 1, 5]
    notes["a", 1, 5] = replace(first, end_s=first.start_s + 0.59)
    notes["a", 9, 5] = replace(first, start_s=first.start_s + 0.6)
    notes["a", 9, 9] = replace(first, string=9, start_s=2.1, end_s=2.3, off=-9.0)
    assert sorted(_extras(_graded(lesson, notes))) == [("a", "extra-note", 9), ("a", "extra-pick", 5)]


@pytest.mark.parametrize("cents", [-45.0, -35.0, 35.0, 45.0])
def test_an_instrument_out_as_a_whole_is_told_once(cents: float) -> None:
    lesson = _lesson()
    report = _graded(lesson, _clean(lesson), off=cents / 100.0)
    assert report["tuning_cents"] == pytest.approx(cents, abs=1.0)
    assert report["clean"] is True


def test_with_a_reference_nothing_is_taken_off() -> None:
    lesson = replace(_lesson(), reference_hz=440.0)
    report = _graded(lesson, _clean(lesson), off=0.3)
    assert report["tuning_cents"] == 0.0
    assert {fault for faults in _faults(report).values() for fault in faults} == {"sharp"}


def test_a_figure_left_out_is_not_found_and_the_other_is_right() -> None:
    lesson = _lesson()
    report = _graded(lesson, _clean(lesson, {"b": 6.0}))
    found = {f["figure"]: f["found"] for f in report["figures"]}
    assert found == {"a": False, "b": True}
    assert _faults(report) == {}


def test_a_click_gives_the_grid() -> None:
    lesson = _lesson()
    report = _graded(lesson, _clean(lesson), timing="click", start_s=1.0)
    assert report["tempo"] == pytest.approx(90.0)
    starts = np.array([f["start_s"] for f in report["figures"]])
    beats = (starts - 1.0) / lesson.beat_s
    assert np.allclose(beats, np.round(beats), atol=1e-3)


def test_a_take_without_the_lesson_in_it_cannot_be_used() -> None:
    lesson = _lesson()
    with pytest.raises(Unusable, match="no figure"):
        _graded(lesson, {})


# Takes of several figures


THREE = (
    figure_of("1", 4, "beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5, over = 0.5")
    + figure_of("2", 4, "beat = 1, fret = 8, pick = [4, 5]", "beat = 3, fret = 10, pick = [3]")
    + figure_of(
        "3", 4, "beat = 1, fret = 12, pick = [6, 8]", 'beat = 2, down = ["B"]', "beat = 3, fret = 8, pick = [5]"
    )
)


def _ladder(name: str, fret: int) -> str:
    """A figure of five beats, a grip on each."""
    pairs = ((5, 6), (4, 5), (3, 4), (5, 6), (6, 8))
    return figure_of(name, 6, *(f"beat = {i}, fret = {fret}, pick = {list(pair)}" for i, pair in enumerate(pairs, 1)))


LADDERS = _ladder("1", 3) + _ladder("2", 8) + _ladder("3", 5)


def _told(report: Mapping[str, Any]) -> list[tuple[str, int]]:
    """(name, attempt) of the figures found, in the report's order."""
    return [(figure["figure"], figure["attempt"]) for figure in report["figures"] if figure["found"]]


@pytest.mark.parametrize("pause_s", [0.0, 2.0])
@pytest.mark.parametrize("order", ["123", "1213", "12123", "111", "132", "321", "31", "3"])
def test_figures_may_recur_be_left_out_and_change_places(order: str, pause_s: float) -> None:
    take = Take(lesson_of(THREE, tempo=80))
    at_s = 1.0
    starts_s = []
    for name in order:
        starts_s.append(at_s)
        take.play(name, at_s)
        at_s = take.end_s(name, at_s) + pause_s
    report = take.report()
    assert _told(report) == [(name, order[: i + 1].count(name)) for i, name in enumerate(order)]
    assert [f["start_s"] for f in report["figures"] if f["found"]] == pytest.approx(starts_s, abs=0.01)
    left_out = set("123") - set(order)
    assert {f["figure"] for f in report["figures"] if not f["found"]} == left_out
    assert (faults(report), extras(report)) == ({}, [])
    assert report["clean"] is (not left_out)


def test_what_a_figure_that_was_not_found_says() -> None:
    take = Take(lesson_of(THREE, tempo=80))
    take.play("1", 1.0)
    take.play("3", 5.0)
    lost = take.report()["figures"][1]
    nothing: dict[str, Any] = {
        "found": False,
        "start_s": None,
        "tempo": None,
        "clean": False,
        "checkpoints": [],
        "extras": [],
        "broken_off": None,
    }
    assert lost == {"figure": "2", "attempt": 1} | nothing


def test_figures_of_the_same_content_are_taken_in_order() -> None:
    steps = ("beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5, pick = [4, 5]")
    last = figure_of("3", 4, "beat = 1, fret = 10, pick = [6, 8]", "beat = 3, fret = 8, pick = [3]")
    take = Take(lesson_of(figure_of("1", 4, *steps) + figure_of("2", 4, *steps) + last))
    for name, at_s in (("1", 1.0), ("2", 6.0), ("3", 11.0)):
        take.play(name, at_s)
    assert _told(take.report()) == [("1", 1), ("2", 1), ("3", 1)]


def test_a_false_start_spoils_nothing_of_the_attempt_after_it() -> None:
    steps = (
        "beat = 1, fret = 3, pick = [5, 6]",
        "beat = 3, fret = 8, pick = [5, 6]",
        "beat = 5, fret = 10, over = 1",
        'beat = 7, block = "all"',
    )
    take = Take(lesson_of(figure_of("1", 8, *steps)))
    for key, stroke in take.play("1", 1.0).items():
        if key[0] > 1:
            take.leave_out(stroke)
    take.play("1", 4.0)
    report = take.report()
    assert _told(report) == [("1", 1), ("1", 2)]
    assert [figure["clean"] for figure in report["figures"]] == [False, True]


@pytest.mark.parametrize("share", [0.5, 0.6, 0.8, 1.25, 1.5, 2.0])
def test_the_tempo_is_the_players_own(share: float) -> None:
    take = Take(lesson_of(THREE, tempo=84))
    at_s = 1.0
    for name in "123":
        take.play(name, at_s, 84 * share)
        at_s = take.end_s(name, at_s, 84 * share)
    report = take.report()
    assert report["clean"] is True
    assert report["tempo"] == pytest.approx(84 * share, rel=0.003)


@pytest.mark.parametrize("share", [0.93, 0.96, 1.04, 1.07])
def test_a_figure_of_five_beats_may_have_a_tempo_of_its_own(share: float) -> None:
    take = Take(lesson_of(LADDERS, tempo=90))
    take.play("1", 1.0)
    take.play("2", 6.0, 90 * share)
    take.play("3", 11.0)
    report = take.report()
    assert report["clean"] is True
    assert [f["tempo"] for f in report["figures"]] == pytest.approx([90, 90 * share, 90], rel=0.003)


def test_a_figure_of_two_beats_has_the_tempo_of_the_take() -> None:
    """At 80 instead of 90 beats a minute the second grip, two beats on, comes 167 ms late."""
    short = figure_of("1", 4, "beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 3, pick = [4, 5]")
    take = Take(lesson_of(short + _ladder("2", 8) + _ladder("3", 5), tempo=90))
    take.play("1", 1.0, 80)
    take.play("2", 6.0)
    take.play("3", 11.0)
    report = take.report()
    assert faults(report) == {("1", 2, 4): ["late"], ("1", 2, 5): ["late"]}
    assert report["tempo"] == pytest.approx(90, rel=0.003)


@pytest.mark.parametrize("start_s", [None, 1.0, 1.0 + 100 * 60 / 90])
@pytest.mark.parametrize(("off_s", "word"), [(0.0, None), (0.1, "late"), (0.25, "late"), (-0.25, "early")])
def test_with_a_click_a_figure_beside_the_grid_is_out_of_time(
    start_s: float | None, off_s: float, word: str | None
) -> None:
    take = Take(lesson_of(LADDERS, tempo=90))
    take.play("1", 1.0)
    take.play("2", 1.0 + 8 * 60 / 90)
    take.play("3", 1.0 + 16 * 60 / 90 + off_s)
    report = take.report(timing="click", start_s=start_s)
    found = faults(report)
    assert {key[0] for key in found} == ({"3"} if word else set())
    assert {fault for some in found.values() for fault in some} == ({word} if word else set())
    assert [f["tempo"] for f in report["figures"]] == [90.0, 90.0, 90.0]


def test_a_start_that_is_given_is_not_fitted() -> None:
    take = Take(lesson_of(LADDERS, tempo=90))
    for count, name in enumerate("123"):
        take.play(name, 1.0 + count * 8 * 60 / 90)
    report = take.report(timing="click", start_s=0.9)
    timings = [c["timing_ms"] for f in report["figures"] for c in f["checkpoints"]]
    assert timings == pytest.approx([100.0] * len(timings), abs=0.2)
    assert {fault for some in faults(report).values() for fault in some} == {"late"}


@pytest.mark.parametrize("copedent", ["e9-ten-string", "e9-ten-string-just"])
@pytest.mark.parametrize("cents", [-49.0, -47.0, -45.0, -40.0, -20.0, 20.0, 40.0, 45.0, 47.0, 49.0])
def test_a_take_within_fifty_cents_is_found_whole(copedent: str, cents: float) -> None:
    grips = figure_of(
        "1",
        8,
        "beat = 1, fret = 3, pick = [5, 6]",
        "beat = 3, fret = 5, over = 0.5",
        "beat = 5, pick = [4, 5]",
        'beat = 7, block = "all"',
    )
    line = figure_of(
        "2", 6, "beat = 1, fret = 8, pick = [4, 5]", "beat = 3, fret = 10, pick = [3]", "beat = 5, fret = 8, pick = [8]"
    )
    take = Take(lesson_of(grips + line, copedent=copedent), off_cents=cents)
    take.play("1", 1.0)
    take.play("2", 9.0)
    report = take.report()
    assert report["tuning_cents"] == pytest.approx(cents, abs=1.0)
    assert report["clean"] is True


@pytest.mark.parametrize(
    ("reference_hz", "a4_hz"), [(440, 440.0), (442, 442.0), (442, 440.0), (440, 442.0), (432, 432.0)]
)
def test_a_reference_in_hertz(reference_hz: int, a4_hz: float) -> None:
    """1200 log2(442 / 440) is 7.85 cents. Nothing is taken off, and 8 cents are within the 15 allowed."""
    take = Take(lesson_of(THREE, more=f"reference = {reference_hz}"), off_cents=1200 * float(np.log2(a4_hz / 440)))
    for count, name in enumerate("123"):
        take.play(name, 1.0 + 5.0 * count)
    report = take.report()
    assert report["clean"] is True
    assert report["tuning_cents"] == 0.0
    cents = [c["cents"] for f in report["figures"] for c in f["checkpoints"]]
    assert cents == pytest.approx([1200 * float(np.log2(a4_hz / reference_hz))] * len(cents), abs=1.0)


def test_cents_are_what_was_heard_less_expected_less_tuning() -> None:
    take = Take(lesson_of(THREE), off_cents=23.0)
    strokes = take.play("1", 1.0)
    take.play("2", 6.0)
    take.play("3", 11.0)
    strokes[1, 5].detune(0.2)
    report = take.report()
    for figure in report["figures"]:
        for one in figure["checkpoints"]:
            off_cents = 100 * (one["heard_midi"] - one["expected_midi"]) - report["tuning_cents"]
            assert one["cents"] == pytest.approx(off_cents, abs=0.2)
    assert faults(report) == {("1", 1, 5): ["sharp"], ("1", 2, 5): ["sharp"]}


@pytest.mark.parametrize(("tolerances", "clean"), [("strict", False), ("standard", True), ("relaxed", True)])
def test_tolerances_decide(tolerances: str, clean: bool) -> None:
    take = Take(lesson_of(THREE))
    strokes = take.play("1", 1.0)
    take.play("2", 6.0)
    take.play("3", 11.0)
    strokes[1, 5].detune(0.1)
    assert take.report(tolerances)["clean"] is clean


def test_notes_before_the_first_figure_and_after_the_last_are_nobodys_fault() -> None:
    take = Take(lesson_of(THREE))
    for count, name in enumerate("123"):
        take.play(name, 6.0 + 5.0 * count)
    for at_s in (0.5, 1.5, 2.5, 30.0, 31.0):
        take.strike(7, at_s, at_s + 0.4, 54 + 1)
    report = take.report()
    assert faults(report) == {}
    assert _told(report) == [("1", 1), ("2", 1), ("3", 1)]


def test_the_end_of_a_take_in_the_middle_of_a_figure() -> None:
    take = Take(lesson_of(LADDERS, tempo=90))
    take.play("1", 1.0)
    for key, stroke in take.play("2", 6.0).items():
        if key[0] > 3:
            take.leave_out(stroke)
    report = take.report(figures=("1", "2"))
    assert faults(report) == {("2", step, s): ["missed"] for step, pair in ((4, (5, 6)), (5, (6, 8))) for s in pair}


def test_forty_figures() -> None:
    names = [str(count) for count in range(40)]
    figures = "".join(
        figure_of(
            name,
            4,
            f"beat = 1, fret = {count % 13}, pick = [5, {(6, 8, 4, 3)[count // 13]}]",
            f"beat = 3, fret = {count * 5 % 12}",
        )
        for count, name in enumerate(names)
    )
    take = Take(lesson_of(figures, tempo=120))
    at_s = 1.0
    for name in names:
        take.play(name, at_s)
        at_s = take.end_s(name, at_s)
    report = take.report()
    assert _told(report) == [(name, 1) for name in names]
    assert report["clean"] is True


@pytest.mark.parametrize(("key", "fault"), [(65, "extra-note"), (62, "extra-pick")])
def test_notes_of_no_known_string(key: int, fault: str) -> None:
    """All on one channel that is no string's: a key that nobody asked for is told once, and has no string."""
    lesson = read_lesson(lesson_of(THREE), "lesson.toml", load_copedent)
    keys = [(1.0, 62, 1.99), (1.0, 59, 1.99), (5.0, 72, 1.99), (5.0, 67, 1.99), (7.0, 78, 1.99)]
    if fault == "extra-pick":
        keys[0] = (1.0, 62, 0.49)
    keys += [(1.5, key, 0.5), (3.0, 64, 1.99), (3.0, 61, 1.99)]
    engine = MidiEngine(Brief(lesson, lesson.figures[:2], load_tolerances("standard")), MidiInput({}))
    events = [(at_s, 1, mido.Message("note_on", note=one, velocity=80)) for at_s, one, _ in keys]
    events += [(at_s + lasts_s, 0, mido.Message("note_off", note=one)) for at_s, one, lasts_s in keys]
    for time_s, _, message in sorted(events, key=lambda event: event[:2]):
        engine.feed(time_s, message)
    found = document_of(engine.finish("take.mid"))["figures"]
    assert isinstance(found, list)
    told = [(extra["fault"], extra["at_s"], extra["string"], extra["midi"]) for f in found for extra in f["extras"]]
    assert [one for one in told if one[1] == 1.5] == [(fault, 1.5, None, float(key))]
