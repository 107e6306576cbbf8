"""`livecheck play`, called as a person calls it; into files, as there is no sound card here. Aloud: `tests/live/`."""

from __future__ import annotations

from pathlib import Path

import librosa
import mido
import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from tests.cli.call import RATE_HZ, livecheck_call, write_audio, write_lesson

BEAT_S = 60.0 / 90.0


def played(folder: Path, *arguments: str) -> tuple[NDArray[np.float64], int]:
    done = livecheck_call("play", *arguments, "--out", "out.wav", "--overwrite", folder=folder)
    assert (done.returncode, done.stderr) == (0, "")
    samples, rate_hz = soundfile.read(folder / "out.wav")
    return samples, rate_hz


def test_a_figure_has_its_pitches_and_its_length_by_librosas_reading(tmp_path: Path) -> None:
    """String 1 is B4; fret 10 is A5, two semitones more with the pedal B5; then string 3, E4, is D5."""
    lesson = write_lesson(tmp_path)
    samples, rate_hz = played(tmp_path, lesson, "--figure", "2", "--click", "none")
    assert len(samples) == pytest.approx(4 * BEAT_S * rate_hz, abs=2)
    for beats, name in (((0.1, 0.6), "A5"), ((1.1, 1.9), "B5"), ((2.1, 2.9), "D5")):
        part = samples[round(beats[0] * BEAT_S * rate_hz) : round(beats[1] * BEAT_S * rate_hz)]
        hz = float(np.median(librosa.yin(part, fmin=200, fmax=2000, sr=rate_hz)))
        assert abs(1200.0 * np.log2(hz / librosa.note_to_hz(name))) < 15.0


def test_it_may_be_at_any_tempo_with_a_bar_of_count_in_before_it(tmp_path: Path) -> None:
    lesson = write_lesson(tmp_path)
    samples, rate_hz = played(tmp_path, lesson, "--figure", "2", "--tempo", "45")
    assert len(samples) == pytest.approx(8 * 2 * BEAT_S * rate_hz, abs=4)
    onsets_s = librosa.onset.onset_detect(y=samples, sr=rate_hz, units="time", backtrack=True)
    assert onsets_s[:3] == pytest.approx([2 * BEAT_S, 4 * BEAT_S, 6 * BEAT_S], abs=0.06)


def test_the_click_goes_on_if_it_is_asked_to(tmp_path: Path) -> None:
    lesson = write_lesson(tmp_path)
    without, _ = played(tmp_path, lesson, "--figure", "2")
    with_click, _ = played(tmp_path, lesson, "--figure", "2", "--click", "all")
    bar = round(4 * BEAT_S * 48_000)
    assert np.array_equal(without[:bar], with_click[:bar])
    assert np.abs(with_click[bar:] - without[bar:]).max() > 0.05


def test_it_is_as_loud_as_asked(tmp_path: Path) -> None:
    lesson = write_lesson(tmp_path)
    samples, _ = played(tmp_path, lesson, "--click", "none", "--level", "-30")
    assert 20.0 * np.log10(np.abs(samples).max()) == pytest.approx(-30.0, abs=0.1)


def test_a_passage_is_slowed_and_keeps_its_pitch_by_librosas_reading(tmp_path: Path) -> None:
    """From 8 s on the take has string 1 alone, gliding within the first beat of that figure from A5 to B5."""
    write_lesson(tmp_path)
    take = write_audio(tmp_path)
    samples, rate_hz = played(tmp_path, take, "--from", "8.0", "--to", "8.4", "--speed", "0.5")
    assert rate_hz == RATE_HZ
    assert len(samples) == pytest.approx(0.8 * rate_hz, abs=2)
    original, _ = soundfile.read(tmp_path / take, start=round(8.0 * RATE_HZ), stop=round(8.4 * RATE_HZ))
    hz, slow_hz = (float(np.median(librosa.yin(x, fmin=200, fmax=2000, sr=RATE_HZ))) for x in (original, samples))
    assert abs(1200.0 * np.log2(slow_hz / hz)) < 10.0


def test_a_passage_comes_as_often_as_asked_without_a_gap(tmp_path: Path) -> None:
    write_lesson(tmp_path)
    take = write_audio(tmp_path)
    once, _ = played(tmp_path, take, "--from", "1", "--to", "2")
    thrice, _ = played(tmp_path, take, "--from", "1", "--to", "2", "--times", "3")
    assert np.array_equal(np.tile(once, 3), thrice)


def test_mido_reads_the_midi_file(tmp_path: Path) -> None:
    lesson = write_lesson(tmp_path)
    done = livecheck_call("play", lesson, "--figure", "2", "--midi", "two.mid", folder=tmp_path)
    assert (done.returncode, done.stdout) == (0, "Written: two.mid\n")
    file = mido.MidiFile(tmp_path / "two.mid")
    assert [m.note for m in file if m.type == "note_on" and m.velocity] == [81, 74]
    assert any(m.type == "pitchwheel" and m.pitch for m in file)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["lesson.toml", "--speed", "0.5"], "--speed is not for a lesson"),
        (["take.wav", "--tempo", "60"], "--tempo is not for a recording"),
        (["take.wav", "--speed", "0.1"], "wanted 0.25 to 2"),
        (["take.wav", "--from", "9", "--to", "9"], "0.25 s at least between them"),
        (["take.wav", "--level", "0"], "wanted -3 dB at most"),
        (["lesson.toml", "--tempo", "nan"], "is no number"),
        (["lesson.toml", "--tempo", "1"], "wanted 10 at most at a time"),
        (["nothing.toml"], "nothing.toml"),
        (["take.wav", "--out", "take.wav"], "is there already"),
    ],
)
def test_a_call_that_cannot_be_used_gets_one_sentence(tmp_path: Path, arguments: list[str], said: str) -> None:
    write_lesson(tmp_path)
    if "take.wav" in arguments:
        write_audio(tmp_path)
    out = [] if "--out" in arguments else ["--out", "new.wav"]
    done = livecheck_call("play", *arguments, *out, folder=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert not (tmp_path / "new.wav").exists()
