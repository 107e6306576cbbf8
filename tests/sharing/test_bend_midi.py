"""The MIDI file of what was heard, read back by mido and by pretty_midi, and graded again by livecheck."""

from __future__ import annotations

import io
from pathlib import Path

import mido
import numpy as np
import pretty_midi
import pytest

from livecheck.grading.take import play
from livecheck.sharing.bend_midi import midi_of
from tests.pages.example import asked, demo_take


@pytest.fixture(scope="module")
def data() -> bytes:
    return midi_of(demo_take())


def test_mido_reads_a_track_for_each_string_and_the_take_s_tempo(data: bytes) -> None:
    file = mido.MidiFile(file=io.BytesIO(data))
    assert file.type == 1
    names = [message.name for track in file.tracks for message in track if message.type == "track_name"]
    assert names[0] == "A slow waltz in five figures"
    assert names[1:] == [f"string {string}" for string in (3, 4, 5, 6, 7, 8)]
    tempos = [message.tempo for track in file.tracks for message in track if message.type == "set_tempo"]
    assert mido.tempo2bpm(tempos[0]) == pytest.approx(demo_take().verdict.tempo, abs=0.01)
    markers = [message.text for message in file.tracks[0] if message.type == "marker"]
    assert markers == ["rise", "fall", "grips", "grips", "line", "home"]


def test_pretty_midi_hears_the_pitches_that_were_heard(data: bytes) -> None:
    """Figure rise, string 5: D4 (62) from the pick, G4 (67) after the slide."""
    file = pretty_midi.PrettyMIDI(io.BytesIO(data))
    (string,) = [one for one in file.instruments if one.name == "string 5"]
    first = string.notes[0]
    assert first.start == pytest.approx(demo_take().figures[0].verdict.start_s, abs=0.05)
    wide = _range(data, channel=4)
    bends = [bend for bend in string.pitch_bends if first.start <= bend.time <= first.end]
    pitches = np.array([first.pitch + bend.pitch / 8192.0 * wide for bend in bends])
    times = np.array([bend.time for bend in bends])
    start = float(np.median(pitches[times < first.start + 1.0]))
    end = float(np.median(pitches[times > first.start + 3.2]))
    assert start == pytest.approx(62.0, abs=0.15)
    assert end == pytest.approx(67.0, abs=0.15)


def test_livecheck_finds_the_same_mistakes_of_pitch_in_it(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "heard.mid"
    path.write_bytes(data)
    again = play(str(path), "heard.mid", asked()).verdict
    original = demo_take().verdict
    assert [figure.figure.name for figure in again.figures] == [figure.figure.name for figure in original.figures]
    for fault in ("late", "flat", "missed", "cut-short"):
        assert _with(original, fault) <= _with(again, fault)


def _with(verdict: object, fault: str) -> set[tuple[str, int, int, int]]:
    return {
        (figure.figure.name, figure.attempt, checkpoint.step, checkpoint.string)
        for figure in verdict.figures  # type: ignore[attr-defined]
        for checkpoint in figure.checkpoints
        if fault in checkpoint.faults
    }


def _range(data: bytes, channel: int) -> int:
    """Data entry (controller 6) after RPN 0 of a channel."""
    for track in mido.MidiFile(file=io.BytesIO(data)).tracks:
        values = [m.value for m in track if m.type == "control_change" and (m.channel, m.control) == (channel, 6)]
        if values:
            return int(values[0])
    raise AssertionError
