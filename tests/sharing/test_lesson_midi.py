"""A lesson as MIDI, read back by mido and by pretty_midi, and graded by livecheck itself."""

from __future__ import annotations

import io
from pathlib import Path

import mido
import numpy as np
import pretty_midi
import pytest

from livecheck.lesson.expectation import expect
from livecheck.sharing.bend_midi import lesson_midi
from livecheck.sources.library import load_lesson
from tests.cli.call import livecheck_call

LESSON = load_lesson(str(Path(__file__).parents[2] / "livecheck" / "demo" / "lesson.toml"))


@pytest.fixture(scope="module")
def data() -> bytes:
    return lesson_midi(LESSON, LESSON.figures)


def test_mido_reads_tempo_names_and_the_bend_range(data: bytes) -> None:
    file = mido.MidiFile(file=io.BytesIO(data))
    head, *strings = file.tracks
    assert [m.text for m in head if m.type == "marker"] == ["rise", "fall", "grips", "line", "home"]
    assert mido.tempo2bpm(next(m.tempo for m in head if m.type == "set_tempo")) == pytest.approx(84.0, abs=0.01)
    for track in strings:
        controls = [(m.control, m.value) for m in track if m.type == "control_change"]
        assert controls[:2] == [(101, 0), (100, 0)], "RPN 0 (MIDI 1.0): the bend range follows"
        assert controls[2][0] == 6
        assert {m.channel + 1 for m in track if not m.is_meta} == {int(track.name.removeprefix("string "))}


def test_pretty_midi_hears_every_note_with_its_bends(data: bytes) -> None:
    """Of each note the pitch at its start and at its end, as the lesson asks them."""
    file = pretty_midi.PrettyMIDI(io.BytesIO(data))
    ranges = {t.name: next(m.value for m in t if m.type == "control_change" and m.control == 6)
              for t in mido.MidiFile(file=io.BytesIO(data)).tracks[1:]}  # fmt: skip
    start_s = 0.0
    heard = 0
    for figure in LESSON.figures:
        for note in expect(figure, LESSON.copedent).notes:
            (string,) = [one for one in file.instruments if one.name == f"string {note.string}"]
            begin_s, end_s = (start_s + (beat - 1.0) * LESSON.beat_s for beat in (note.start_beat, note.end_beat))
            (found,) = [one for one in string.notes if abs(one.start - begin_s) < 0.002]
            assert found.end == pytest.approx(end_s, abs=0.002)
            bends = [bend for bend in string.pitch_bends if bend.time <= end_s - 0.02]
            for time_s, beat in ((begin_s + 0.005, note.start_beat), (end_s - 0.02, note.end_beat - 0.001)):
                value = [bend.pitch for bend in bends if bend.time <= time_s][-1]
                midi = found.pitch + value / 8192.0 * ranges[string.name]
                assert midi == pytest.approx(float(note.midi_at(np.array(beat))), abs=0.02)
            heard += 1
        start_s += float(figure.length) * LESSON.beat_s
    assert heard == sum(len(one.notes) for one in file.instruments)


def test_livecheck_finds_nothing_wrong_with_it(data: bytes, tmp_path: Path) -> None:
    (tmp_path / "played.mid").write_bytes(data)
    lesson = Path(__file__).parents[2] / "livecheck" / "demo" / "lesson.toml"
    done = livecheck_call("grade", str(lesson), "played.mid", "--timing", "click", folder=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
