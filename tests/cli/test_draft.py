"""`livecheck draft`, called as a person calls it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import mido
import pytest
import soundfile

from livecheck.lesson.expectation import expect
from livecheck.sources.library import load_lesson
from tests.cli.call import livecheck_call, write_audio, write_lesson, write_midi


@pytest.mark.parametrize("write", [write_audio, write_midi])
def test_a_take_becomes_a_lesson_that_it_is_clean_against(tmp_path: Path, write: Callable[[Path], str]) -> None:
    """The take is the lesson's own, played by the book, two figures with a breath in between."""
    write_lesson(tmp_path)
    take = write(tmp_path)
    done = livecheck_call("draft", take, "--copedent", "three.toml", folder=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Written: take.toml" in done.stdout
    assert all(len(line) <= 80 for line in done.stdout.splitlines())
    graded = livecheck_call("grade", "take.toml", take, folder=tmp_path)
    assert graded.returncode == 0, graded.stdout


def test_the_draft_asks_for_what_was_played_on_round_beats(tmp_path: Path) -> None:
    write_lesson(tmp_path)
    take = write_audio(tmp_path)
    livecheck_call("draft", take, "--copedent", "three.toml", "--tempo", "90", "--out", "mine.toml", folder=tmp_path)
    written, drafted = load_lesson(str(tmp_path / "lesson.toml")), load_lesson(str(tmp_path / "mine.toml"))
    assert drafted.tempo == 90
    assert len(drafted.figures) == 2
    for one, other in zip(written.figures, drafted.figures, strict=True):
        asked, found = (
            [
                (note.start_beat, [round(midi, 1) for _, midi in note.knots[:1]])
                for note in expect(f, written.copedent).notes
            ]
            for f in (one, other)
        )
        assert sorted(found) == sorted(asked)


def test_mido_reads_what_was_drafted_and_written_as_midi(tmp_path: Path) -> None:
    """The notes of the draft, through `play --midi`, are those of the take by mido's own reading."""
    write_lesson(tmp_path)
    take = write_midi(tmp_path)
    livecheck_call("draft", take, "--copedent", "three.toml", folder=tmp_path)
    done = livecheck_call("play", "take.toml", "--midi", "again.mid", folder=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    first, again = (
        sorted(m.note for m in mido.MidiFile(tmp_path / name) if m.type == "note_on" and m.velocity)
        for name in (take, "again.mid")
    )
    assert first == again


def test_a_passage_alone_is_drafted(tmp_path: Path) -> None:
    write_lesson(tmp_path)
    take = write_audio(tmp_path)
    done = livecheck_call("draft", take, "--copedent", "three.toml", "--from", "6.2", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert len(load_lesson(str(tmp_path / "take.toml")).figures) == 1


def test_a_file_that_is_there_is_not_written_over(tmp_path: Path) -> None:
    write_lesson(tmp_path)
    take = write_midi(tmp_path)
    (tmp_path / "take.toml").write_text("mine", encoding="utf-8")
    refused = livecheck_call("draft", take, "--copedent", "three.toml", folder=tmp_path)
    assert refused.returncode == 2
    assert "--overwrite" in refused.stderr
    assert (tmp_path / "take.toml").read_text(encoding="utf-8") == "mine"
    assert livecheck_call("draft", take, "--copedent", "three.toml", "--overwrite", folder=tmp_path).returncode == 0
    assert "format" in (tmp_path / "take.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--tempo", "0"], "--tempo is 0"),
        (["--from", "5", "--to", "5.1"], "0.25 s at least between them"),
        (["--from", "500"], "0.25 s at least between them"),
        (["--copedent", "nowhere"], "--copedent: there is no"),
        (["--out", "no/where.toml"], "lies in no folder that is there"),
    ],
)
def test_a_call_that_cannot_be_used_gets_one_sentence(tmp_path: Path, options: list[str], said: str) -> None:
    write_lesson(tmp_path)
    take = write_audio(tmp_path)
    done = livecheck_call("draft", take, *options, folder=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_take_in_which_nothing_is_picked_gets_one_sentence(tmp_path: Path) -> None:
    import numpy as np

    soundfile.write(tmp_path / "hiss.wav", np.random.default_rng(1).normal(0.0, 0.05, 48_000), 24_000)
    done = livecheck_call("draft", "hiss.wav", folder=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert "no string was heard" in done.stderr
    assert not (tmp_path / "hiss.toml").exists()


def test_a_take_that_is_too_short_is_told_by_its_name(tmp_path: Path) -> None:
    write_lesson(tmp_path)
    track = mido.MidiTrack([mido.Message("note_on", note=66, velocity=90), mido.Message("note_off", note=66, time=9)])
    mido.MidiFile(tracks=[track]).save(tmp_path / "short.mid")
    done = livecheck_call("draft", "short.mid", "--copedent", "three.toml", folder=tmp_path)
    assert (done.returncode, done.stderr) == (
        2,
        "livecheck: short.mid: lasts 0.009 s; wanted 0.25 s at least\n",
    )
