"""Whatever is wrong with a call, a lesson or a take is one line on standard error and exit status 2."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.cli.call import livecheck_call, write_midi


def complaint(folder: Path, *arguments: str) -> str:
    """What a call that cannot be used says."""
    done = livecheck_call(*arguments, folder=folder)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("livecheck: ")
    assert done.stderr.count("\n") == 1
    return done.stderr.removeprefix("livecheck: ").rstrip("\n")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ("", "the following arguments are required: COMMAND; livecheck --help tells what can be given"),
        ("judge lesson.toml take.mid", "argument COMMAND: invalid choice: 'judge'"),
        ("grade", "a lesson and a take are missing; wanted livecheck grade LESSON TAKE"),
        ("grade lesson.toml", "a take is missing; wanted livecheck grade LESSON TAKE"),
        ("grade lesson.toml take.mid --loud", "unrecognized arguments: --loud"),
        ("grade lesson.toml take.mid --tol strict", "unrecognized arguments: --tol"),
        ("grade lesson.toml take.mid --timing fast", "argument --timing: invalid choice: 'fast'"),
        ("grade lesson.toml take.mid --figure", "argument --figure: expected at least one argument"),
        ("grade lesson.toml take.mid --channel 0", "argument --channel: '0' is no number from 1"),
        ("grade lesson.toml take.mid --channel two", "argument --channel: 'two' is no number from 1"),
        (f"grade lesson.toml take.mid --channel {'9' * 5000}", "9' is no number from 1"),
        ("grade lesson.toml take.mid --start soon", "argument --start: 'soon' is no number"),
        ("grade lesson.toml take.mid --timing click --start inf", "argument --start: 'inf' is no number"),
        ("grade lesson.toml take.mid --start 1", "--start belongs to --timing click or backing; wanted both"),
        ("grade lesson.toml take.mid --figure 3", 'lesson.toml: has no figure "3"; wanted one of "1", "2"'),
        ("grade lesson.toml take.mid --tolerances harsh", '--tolerances: there is no "harsh"; wanted relaxed'),
        ("grade lesson.toml take.mid --tolerances ./harsh", "--tolerances: harsh: cannot be read: no such file"),
        ("grade lesson.toml take.mid --tolerances three.toml", "--tolerances: three.toml: "),
        ("grade lesson.toml take.mid --input harp", '--input: there is no "harp"; wanted channel-per-string, keyboard'),
        ("grade lesson.toml take.mid --copedent e9-ten-string", "--copedent: e9-ten-string: has 10 strings; wanted 3"),
        ("grade lesson.toml take.mid --copedent nowhere.toml", "--copedent: nowhere.toml: cannot be read: no such"),
    ],
)  # fmt: skip
def test_calls(folder: Path, arguments: str, said: str) -> None:
    write_midi(folder)
    assert said in complaint(folder, *arguments.split())


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "lesson.toml: cannot be read: no such file or directory; wanted a lesson file"),
        (b"", 'lesson.toml: lacks the key "format"'),
        (b"MThd\x00\x00\x00\x06", "lesson.toml: not TOML"),
        (b"title = '\xff\xfe'", "lesson.toml: is not UTF-8 text (byte 10)"),
        (b"title = 'a\\nb", "lesson.toml: not TOML"),
        (b'format = 1\ntempo = 90\ncopedent = "four.toml"\nfigure = []', "lesson.toml: "),
    ],
)
def test_lessons(folder: Path, content: bytes | None, said: str) -> None:
    write_midi(folder)
    (folder / "lesson.toml").unlink()
    if content is not None:
        (folder / "lesson.toml").write_bytes(content)
    assert said in complaint(folder, "grade", "lesson.toml", "take.mid")


def test_a_lesson_that_is_a_folder(folder: Path) -> None:
    assert complaint(folder, "grade", ".", "take.mid").startswith(".: is a folder; wanted a lesson")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty; wanted audio (WAV, FLAC, OGG, MP3 or AIFF)"),
        (b"words, no sound", "is not audio that can be read, or is damaged; wanted audio"),
        (b"RIFF\x00\x00\x00\x00WAVEfmt ", "is not audio that can be read, or is damaged"),
        (b"MThd\x00\x00\x00\x06\x00\x01", "the MIDI file ends in the middle; wanted a Standard MIDI File"),
        (b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk\x00\x00\x00\x02\x00\x01", "the MIDI file is damaged"),
        (b"MThd\x00\x00\x00\x06\x00\x02\x00\x00\x00\x60", "is a MIDI file of type 2"),
        (b"MThd\x00\x00\x00\x06\x00\x00\x00\x00\x00\x60", "has no note in it"),
    ],
)
def test_takes_that_cannot_be_read(folder: Path, content: bytes, said: str) -> None:
    (folder / "take").write_bytes(content)
    assert complaint(folder, "grade", "lesson.toml", "take").startswith(f"take: {said}")


@pytest.mark.parametrize(
    ("take", "said"),
    [
        ("nowhere.wav", "nowhere.wav: cannot be read: no such file or directory; wanted a take: audio"),
        (".", ".: is a folder; wanted a take"),
        ("/dev/null", "/dev/null: is a pipe or a device, not a file; wanted a take"),
        ("two\nlines\x1b[2J.wav", "two lines?[2J.wav: cannot be read"),
        ("\udcff.wav", "?.wav: cannot be read"),
    ],
)
def test_takes_that_are_no_files(folder: Path, take: str, said: str) -> None:
    assert complaint(folder, "grade", "lesson.toml", take, "--json").startswith(said)


RNG = np.random.default_rng(11)


@pytest.mark.parametrize(
    ("samples", "arguments", "said"),
    [
        (np.zeros(16_000), "", "is silent, nothing was heard"),
        (RNG.uniform(-0.1, 0.1, 1_600), "", "lasts 0.200 s; wanted 0.25 s at least"),
        (np.where(np.arange(16_000) == 8_000, np.nan, 0.1), "", "sample 8001 of channel 1 (1.000 s) is not a number"),
        (RNG.uniform(-0.1, 0.1, 16_000), "--channel 2", "has 1 channel; wanted channel 2"),
        (RNG.uniform(-0.1, 0.1, 16_000), "", "no figure of this lesson was found in it"),
    ],
)
def test_takes_without_anything_to_grade(folder: Path, samples: np.ndarray, arguments: str, said: str) -> None:
    soundfile.write(folder / "take.wav", samples, 8_000, subtype="FLOAT")
    assert complaint(folder, "grade", "lesson.toml", "take.wav", *arguments.split()).startswith(f"take.wav: {said}")


def test_a_take_that_breaks_off_before_anything_to_grade_says_both(folder: Path) -> None:
    soundfile.write(folder / "take.wav", RNG.uniform(-0.1, 0.1, 16_000), 8_000)
    (folder / "take.wav").write_bytes((folder / "take.wav").read_bytes()[:-16_000])
    said = complaint(folder, "grade", "lesson.toml", "take.wav")
    assert said.startswith("take.wav: no figure of this lesson was found in it; wanted a take of")
    assert said.endswith("; the file breaks off: it promises 2.00 s, only 1.00 s can be read")


def test_a_midi_take_of_something_else(folder: Path) -> None:
    write_midi(folder)
    lesson = (folder / "lesson.toml").read_text()
    for before, after in (("fret = 3", "fret = 14"), ("fret = 5", "fret = 20"), ("fret = 8", "fret = 1")):
        lesson = lesson.replace(before, after)
    (folder / "lesson.toml").write_text(lesson.replace("fret = 10", "fret = 0"))
    assert complaint(folder, "grade", "lesson.toml", "take.mid").startswith(
        "take.mid: no figure of this lesson was found"
    )


def test_all_takes_bad(folder: Path) -> None:
    done = livecheck_call("grade", "lesson.toml", "a.wav", "b.wav", "--json", folder=folder)
    assert done.returncode == 2
    assert done.stdout.count('"error"') == 2
    assert len(done.stderr.splitlines()) == 2
