"""`livecheck measure` on a recording: what it says, what it writes, and that the other commands then use that."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import soundfile

from livecheck.sources.library import load_copedent
from tests.cli.call import livecheck_call, write_audio
from tests.hearing.tones import tone

RATE_HZ = 24_000
STRUCK = (71.04, 67.9, 64.0, 72.95, 63.97)
"""Strings 1 to 3 open, then 1 and 3 with P: sharp 4, flat 10, right; P flat 5, and a drop of 3 cents."""
ARGUMENTS = ("measure", "strings.wav", "--copedent", "three.toml", "--keep", "kept")


def write_strings(folder: Path, midis: tuple[float, ...] = STRUCK, name: str = "strings.wav") -> None:
    pause = np.zeros(RATE_HZ // 4, dtype=np.float32)
    soundfile.write(folder / name, np.concatenate([part for m in midis for part in (tone(m, 1.5), pause)]), RATE_HZ)


def test_what_is_out_of_tune_and_the_file(folder: Path) -> None:
    write_strings(folder)
    done = livecheck_call(*ARGUMENTS, folder=folder)
    assert (done.returncode, done.stderr) == (1, "")
    heard, told = done.stdout.split("Three strings and a pedal: ")
    assert [line for line in heard.splitlines() if line] == [
        "  string 1: 4 cents sharp",
        "  string 2: 10 cents flat",
        "  string 3: 0 cents sharp",
        "  string 1 with P: 5 cents flat",
        "  string 3 with P: falls by 3 cents",
    ], "nobody is asked to strike what is recorded already"
    path = os.path.join("kept", "instruments", "three.toml")
    assert told == (
        "5 of 5 heard\n"
        "\n"
        "Out of tune, the worst first:\n"
        "  string 2          10 cents flat  to be G#4\n"
        "  string 1 with P    5 cents flat  to be C#5\n"
        "  string 1          4 cents sharp  to be B4\n"
        "\n"
        "All else is not further off than 3 cents.\n"
        "\n"
        "Strings that are not pulled fall: string 3 by 3 cents with P.\n"
        f"\nWritten: {path}\n"
    )
    own = load_copedent(str(folder / path))
    assert own.strings == pytest.approx(STRUCK[:3], abs=0.002)
    assert own.changes == {"P": {1: pytest.approx(1.91, abs=0.002)}}
    assert own.drops == {"P": pytest.approx(0.03, abs=0.002)}


def test_it_is_not_written_over_unless_asked(folder: Path) -> None:
    write_strings(folder)
    livecheck_call(*ARGUMENTS, folder=folder)
    write_strings(folder, (71.0, 68.0, 64.0, 73.0, 64.0))
    done = livecheck_call(*ARGUMENTS, folder=folder)
    path = os.path.join("kept", "instruments", "three.toml")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        f"livecheck: {path}: is there already; wanted --overwrite to measure anew, or --out with another file\n"
    )
    assert livecheck_call(*ARGUMENTS, "--out", "other.toml", folder=folder).returncode == 0
    assert livecheck_call(*ARGUMENTS, "--overwrite", folder=folder).returncode == 0
    assert load_copedent(str(folder / path)) == load_copedent(str(folder / "other.toml"))


def test_other_strings_and_what_was_not_heard(folder: Path) -> None:
    write_strings(folder, (66.0, 71.0, 64.0, 73.0, 68.0))
    done = livecheck_call(*ARGUMENTS, folder=folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert "  heard F#4; wanted string 1, B4\n" in done.stdout
    assert "Not heard, and taken as the copedent has it: string 3 with P\n" in done.stdout


def test_two_strings_that_ring_together_are_told_once(folder: Path) -> None:
    both = tone(71.0, 6.0) + tone(64.4, 6.0)
    write_strings(folder)
    samples, _ = soundfile.read(folder / "strings.wav", dtype="float32")
    soundfile.write(folder / "strings.wav", np.concatenate((both, samples)), RATE_HZ)
    done = livecheck_call(*ARGUMENTS, folder=folder)
    assert done.stdout.count("  more than one string sounds, or none steadily: damp the others\n") == 1
    assert "5 of 5 heard" in done.stdout


@pytest.mark.parametrize(
    ("midis", "said"),
    [
        ((71.0, 68.0), "not all strings were heard (missing: 3); wanted each open string; nothing is written"),
        ((66.0,), "no string was heard that is asked for; wanted each open string; nothing is written"),
    ],
)
def test_too_little(folder: Path, midis: tuple[float, ...], said: str) -> None:
    write_strings(folder, midis)
    done = livecheck_call(*ARGUMENTS, folder=folder)
    assert (done.returncode, done.stderr) == (2, f"livecheck: {said}\n")
    assert not (folder / "kept").exists()


def test_calls_that_cannot_be_used(folder: Path) -> None:
    write_strings(folder)
    (folder / "file").write_text("in the way", encoding="ascii")
    for arguments, said in (
        (("measure", "strings.wav"), "--copedent is missing; wanted the name or file of the"),
        (("measure", "strings.wav", "--copedent", "nine"), '--copedent: there is no "nine"; wanted '),
        (("measure", "nowhere.wav", "--copedent", "three.toml", "--keep", "kept"), "nowhere.wav: cannot be read"),
        ((*ARGUMENTS[:-1], "file"), "file/instruments/three.toml: cannot be written (Not a directory)"),
    ):
        done = livecheck_call(*arguments, folder=folder)
        assert (done.returncode, done.stderr.count("\n")) == (2, 1)
        assert done.stderr.startswith(f"livecheck: {said}")
        assert done.stdout == "", "it is told before anything is measured"


def test_what_was_measured_is_not_lost_where_it_cannot_be_written(folder: Path) -> None:
    write_strings(folder)
    (folder / "taken").mkdir()
    done = livecheck_call(*ARGUMENTS, "--out", "taken", "--overwrite", folder=folder)
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert done.stderr.startswith("livecheck: taken: cannot be written (Is a directory)")
    assert "string_cents" in done.stdout


def test_the_measured_instrument_is_used_without_being_told(folder: Path) -> None:
    write_strings(folder, (71.3, 68.0, 64.0, 73.3, 64.0))
    write_audio(folder)
    environment = {"XDG_DATA_HOME": str(folder / "data")}
    keep = str(folder / "data" / "livecheck")
    grade = ("grade", "lesson.toml", "take.wav")

    def graded(*more: str) -> str:
        return livecheck_call(*grade, *more, folder=folder, environment=environment).stdout

    before = graded("--json")
    livecheck_call(*ARGUMENTS[:-1], keep, folder=folder)
    after = graded("--json")
    assert '"flat"' in after
    assert '"flat"' not in before
    assert "In tune is what the instrument was measured to be on 20" in graded()
    assert graded("--json", "--copedent", "three.toml") == before
    (folder / "three.toml").write_text(
        (folder / "three.toml").read_text(encoding="utf-8").replace("P = { 1 = 2 }", "P = { 1 = 2 }\nQ = { 2 = 1 }"),
        encoding="utf-8",
    )
    assert graded("--json") == before, "an instrument with other changes is not this one"
