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
from livecheck.hearing.midi_input import MidiInput
from livecheck.lesson.expectation import Note, expect
from livecheck.lesson.figure import Lesson
from livecheck.lesson.reading import read_lesson
from livecheck.reports.document import document_of
from livecheck.sources.library import load_copedent, load_tolerances

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
