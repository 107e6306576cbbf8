"""Figures told while a take goes on: each once, soon after it ended, and without a trace in the final verdict."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib.resources import files

import mido
import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from livecheck.engine import AudioEngine, Brief, MidiEngine
from livecheck.errors import Unusable
from livecheck.hearing.midi.input import MidiInput
from livecheck.judging.verdict import FigureVerdict
from livecheck.lesson.figure import Lesson
from livecheck.reports.document import document_of, text_of
from livecheck.sources.library import load_lesson, load_tolerances
from tests.judging.midi_player import Take, figure_of, lesson_of

LESSON = lesson_of(
    figure_of("a", 6, "beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5, over = 0.5", 'beat = 6, block = "all"')
    + figure_of("b", 8, "beat = 1, fret = 8, pick = [4, 5]", "beat = 2, fret = 8, pick = [3, 4]", "beat = 5, fret = 10")
    + figure_of("c", 4, "beat = 1, fret = 10, pick = [6, 8]", "beat = 3, fret = 10, pick = [4]"),
    tempo=90,
)
BEAT_S = 60.0 / 90.0
TURN_S = 0.02
SOON_S = 0.15
DECIDED_S = {"a": 2 * BEAT_S + 0.5 * 3 * BEAT_S, "b": 4 * BEAT_S + 0.5 * 4 * BEAT_S, "c": 2 * BEAT_S + 0.5 * 2 * BEAT_S}
"""After its start: the last checkpoint's beat and half its written time, which is longer than 250 ms in all three."""


def engine_of(take: Take) -> MidiEngine:
    lesson = take.lesson
    channels = {string: string for string in range(1, len(lesson.copedent.strings) + 1)}
    return MidiEngine(Brief(lesson, lesson.figures, load_tolerances("standard")), MidiInput(channels))


def told(take: Take, until_s: float) -> list[tuple[float, FigureVerdict]]:
    """What is told of a take, and when, while it is played up to a time."""
    engine, found = engine_of(take), []
    messages = iter([*take.messages(), (float("inf"), mido.Message("note_off"))])
    time_s, message = next(messages)
    for turn in range(round(until_s / TURN_S)):
        now_s = turn * TURN_S
        while time_s <= now_s:
            engine.feed(time_s, message)
            time_s, message = next(messages)
        found += [(now_s, verdict) for verdict in engine.ended(now_s)]
    return found


def faults(verdict: FigureVerdict) -> dict[tuple[int, int], tuple[str, ...]]:
    return {(c.step, c.string): c.faults for c in verdict.checkpoints if c.faults}


def test_each_figure_is_told_once_and_soon() -> None:
    take = Take(LESSON)
    starts_s = {"a": 1.0, "b": 6.0, "c": 13.0}
    for name, at_s in starts_s.items():
        take.play(name, at_s)
    heard = told(take, 20.0)
    assert [verdict.figure.name for _, verdict in heard] == ["a", "b", "c"]
    for now_s, verdict in heard:
        name = verdict.figure.name
        assert verdict.clean
        assert verdict.start_s == pytest.approx(starts_s[name], abs=0.02)
        assert verdict.tempo == pytest.approx(90.0, rel=0.02)
        assert now_s - starts_s[name] - DECIDED_S[name] == pytest.approx(0.0, abs=SOON_S)


def test_what_was_wrong_is_told() -> None:
    take = Take(LESSON)
    take.play("a", 1.0)
    take.play("b", 6.0)[2, 3].detune(0.3)
    strokes = take.play("c", 13.0)
    take.leave_out(strokes[1, 8])
    take.strike(5, 14.0, 14.2, 70.0)
    (_, a), (_, b), (_, c) = told(take, 20.0)
    assert a.clean
    assert faults(b) == {(2, 3): ("sharp",), (3, 3): ("sharp",)}
    assert faults(c) == {(1, 8): ("missed",)}
    assert [extra.fault for extra in c.extras] == ["extra-note"]


def test_a_last_note_that_has_not_come_is_waited_for_and_then_missed() -> None:
    take = Take(LESSON)
    take.play("a", 1.0)
    take.leave_out(take.play("c", 6.0)[2, 4])
    (_, _), (now_s, verdict) = told(take, 14.0)
    assert faults(verdict) == {(2, 4): ("missed",)}
    assert 6.0 + 2 * BEAT_S + BEAT_S - SOON_S < now_s < 6.0 + 4 * BEAT_S + 2 * SOON_S


def test_the_next_figure_s_beginning_is_no_extra_of_the_one_before() -> None:
    take = Take(LESSON)
    at_s = 1.0
    for name in ("a", "b", "c", "a", "c", "c"):
        take.play(name, at_s)
        at_s = take.end_s(name, at_s)
    heard = [verdict for _, verdict in told(take, at_s + 2.0)]
    assert [(v.figure.name, v.attempt, v.clean) for v in heard] == [
        ("a", 1, True), ("b", 1, True), ("c", 1, True), ("a", 2, True), ("c", 2, True), ("c", 3, True)
    ]  # fmt: skip


def test_a_chord_that_rings_on_does_not_delay_the_verdict() -> None:
    take = Take(LESSON)
    for stroke in take.play("b", 1.0).values():
        stroke.end_s += 8.0 if stroke.start_s > 1.5 else 0.0
    ((now_s, verdict),) = told(take, 14.0)
    assert verdict.clean
    assert now_s == pytest.approx(1.0 + DECIDED_S["b"], abs=SOON_S)


def test_a_figure_that_goes_on_is_not_told() -> None:
    take = Take(LESSON)
    take.play("b", 1.0)
    assert told(take, 1.0 + 4 * BEAT_S + 0.2) == []


def test_other_music_and_silence_are_no_figures() -> None:
    take = Take(LESSON)
    for turn in range(30):
        take.strike(1 + turn % 3, 1.0 + 0.3 * turn, 1.25 + 0.3 * turn, (60.3, 72.4, 75.1, 80.2)[turn % 4])
    assert told(take, 14.0) == []


@cache
def _demo() -> tuple[Lesson, NDArray[np.float32], int]:
    with files("livecheck.demo").joinpath("take.ogg").open("rb") as file:
        samples, rate_hz = soundfile.read(file, dtype="float32")
    part = np.asarray(samples[: round(21.0 * rate_hz)], dtype=np.float32)
    return load_lesson(str(files("livecheck.demo").joinpath("lesson.toml"))), part, rate_hz


@cache
def _heard(block: int, least_frames: int, ask: bool) -> tuple[list[tuple[float, FigureVerdict]], str]:
    """What is told of the first figures of the demo, and when, and the report at the end."""
    lesson, samples, rate_hz = _demo()
    engine = AudioEngine(Brief(lesson, lesson.figures, load_tolerances("standard")), rate_hz, least_frames)
    found = []
    for start in range(0, len(samples), block):
        engine.feed(samples[start : start + block])
        if ask:
            engine.certain()
            found += [((start + block) / rate_hz, verdict) for verdict in engine.ended()]
    return found, text_of([document_of(engine.finish("take"))])


@pytest.mark.parametrize(("block", "least_frames"), [(512, 2), (4096, 1)])
def test_asking_changes_nothing_in_the_report_of_sound(block: int, least_frames: int) -> None:
    heard, report = _heard(block, least_frames, ask=True)
    assert report == _heard(8192, 16, ask=False)[1]
    assert heard


def test_figures_of_sound_are_told_as_the_report_has_them() -> None:
    heard, report = _heard(512, 2, ask=True)
    names = [verdict.figure.name for _, verdict in heard]
    assert names == ["rise", "fall"]
    for now_s, verdict in heard:
        assert verdict.start_s is not None
        assert now_s < verdict.start_s + (float(verdict.figure.length) + 1.0) * 60.0 / (verdict.tempo or 1.0)
        for fault in {fault for c in verdict.checkpoints for fault in c.faults}:
            assert f'"{fault}"' in report


def test_a_mistake_in_sound_is_said_while_the_figure_is_played() -> None:
    """The demo's figure "grips", of which string 7 was left out in the first grip."""
    lesson, _, rate_hz = _demo()
    with files("livecheck.demo").joinpath("take.ogg").open("rb") as file:
        samples, _ = soundfile.read(file, dtype="float32")
    grips = tuple(figure for figure in lesson.figures if figure.name == "grips")
    engine = AudioEngine(Brief(lesson, grips, load_tolerances("standard")), rate_hz, 1)
    said, ended = [], []
    for start in range(round(17.7 * rate_hz), round(27.0 * rate_hz), 512):
        engine.feed(samples[start : start + 512])
        said += [(start / rate_hz, remark) for remark in engine.certain()]
        ended += [(start / rate_hz, verdict) for verdict in engine.ended()]
    ((now_s, remark),) = said
    assert [(c.step, c.string, c.faults) for c in remark.verdict.checkpoints] == [(1, 7, ("missed",))]
    assert remark.verdict.extras == ()
    assert remark.since_s < now_s - 17.7
    assert [verdict.figure.name for _, verdict in ended] == ["grips"]
    assert now_s < ended[0][0] - 2.0


CHOICES = st.lists(st.tuples(st.sampled_from("abc"), st.sampled_from([0.0, 0.4, 2.0]), st.integers(0, 3)), max_size=3)


def _played(choices: Sequence[tuple[str, float, int]]) -> Take:
    take, at_s = Take(LESSON), 0.5
    for name, pause_s, slip in choices:
        strokes = list(take.play(name, at_s).values())
        if slip == 1:
            take.leave_out(strokes[0])
        elif slip == 2:
            strokes[-1].shift(0.2)
        elif slip == 3:
            strokes[0].end_s -= 0.5
        at_s = take.end_s(name, at_s) + pause_s
    return take


@settings(max_examples=15)
@given(choices=CHOICES, retrigger=st.booleans())
def test_asking_changes_nothing_in_the_report_of_midi(choices: list[tuple[str, float, int]], retrigger: bool) -> None:
    take = _played(choices)
    lesson = take.lesson
    reports = []
    for ask in (False, True):
        engine = MidiEngine(
            Brief(lesson, lesson.figures, load_tolerances("standard")),
            MidiInput({string: string for string in range(1, 11)}, retrigger=retrigger),
        )
        for time_s, message in take.messages():
            engine.feed(time_s, message)
            if ask:
                engine.certain(time_s)
                engine.ended(time_s)
        try:
            reports.append(text_of([document_of(engine.finish("take"))]))
        except Unusable as error:
            reports.append(str(error))
    assert reports[0] == reports[1]
