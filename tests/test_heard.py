"""What the engine gives beside the verdict: the notes of each figure, and the sound that was fed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import soundfile

from livecheck.demo.planted import path_of
from livecheck.engine import AudioEngine, Brief, MidiEngine
from livecheck.judging.timing import Event, Line
from livecheck.judging.verdict import TakeVerdict
from livecheck.sources.library import lesson_tolerances, load_input, load_lesson, load_tolerances
from tests.judging.midi_player import Take, figure_of, lesson_of

LESSON = load_lesson(str(path_of("lesson.toml")))
BRIEF = Brief(LESSON, LESSON.figures, lesson_tolerances(LESSON, ""))


def test_of_sound_the_notes_are_where_the_verdict_says() -> None:
    samples, rate_hz = soundfile.read(path_of("take.ogg"), dtype="float32")
    engine = AudioEngine(BRIEF, rate_hz)
    engine.feed(samples)
    verdict = engine.finish("take")
    (rise,) = [figure for figure in verdict.figures if figure.figure.name == "rise"]
    notes = engine.heard(rise)
    for checkpoint in rise.checkpoints:
        if checkpoint.kind == "pick" and checkpoint.heard_midi is not None and checkpoint.heard_s is not None:
            of_string = [note for note in notes if note.string == checkpoint.string]
            near = min(of_string, key=lambda note: abs(note.start_s - (checkpoint.heard_s or 0.0)))
            assert near.start_s == pytest.approx(checkpoint.heard_s, abs=0.05)
            heard = near.median_midi(near.start_s + 0.1, near.start_s + 0.3)
            assert heard == pytest.approx(checkpoint.heard_midi, abs=0.2)


def test_the_sound_is_what_was_fed() -> None:
    rate_hz = 24_000
    samples = np.sin(2.0 * np.pi * 440.0 * np.arange(rate_hz) / rate_hz).astype(np.float32)
    engine = AudioEngine(BRIEF, rate_hz)
    engine.feed(samples)
    got = engine.samples(0.25, 0.75)
    assert len(got) == rate_hz // 2
    assert np.corrcoef(got, samples[rate_hz // 4 : rate_hz * 3 // 4])[0, 1] > 0.999
    assert not engine.samples(-1.0, -0.5).any()


def test_of_midi_each_attempt_has_its_own_notes() -> None:
    take = Take(lesson_of(figure_of("one", 4, "beat = 1, fret = 3, pick = [5]", "beat = 3, fret = 5, pick = [6]")))
    take.play("one", 1.0)
    take.play("one", 6.0)
    brief = Brief(take.lesson, take.lesson.figures, load_tolerances("standard"))
    engine = MidiEngine(brief, load_input("channel-per-string").for_strings(10))
    for time_s, message in take.messages():
        engine.feed(time_s, message)
    first, second = engine.finish("take").figures
    assert [note.string for note in engine.heard(first)] == [note.string for note in engine.heard(second)] == [5, 6]
    assert engine.heard(second)[0].start_s - engine.heard(first)[0].start_s == pytest.approx(5.0, abs=0.01)


def _of_demo() -> tuple[TakeVerdict, list[list[tuple[int | None, float, float]]]]:
    """The bundled take's verdict, and string, start and end of each figure's notes."""
    samples, rate_hz = soundfile.read(path_of("take.ogg"), dtype="float32")
    engine = AudioEngine(BRIEF, rate_hz)
    engine.feed(samples)
    verdict = engine.finish("take")
    return verdict, [[(n.string, n.start_s, n.end_s) for n in engine.heard(figure)] for figure in verdict.figures]


def _half_a_beat_later(_: Sequence[Event], line: Line) -> Line:
    return Line(line.start_s + 0.5 * line.beat_s, line.beat_s)


def test_the_notes_are_those_that_the_verdict_was_made_of(monkeypatch: pytest.MonkeyPatch) -> None:
    """Last of all, each figure is listened to where it does not lie."""
    verdict, notes = _of_demo()
    monkeypatch.setattr("livecheck.judging.places.rival.rival_of", _half_a_beat_later)
    assert _of_demo() == (verdict, notes)
