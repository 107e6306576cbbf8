"""What `livecheck grade` writes beside its report: pages, JAMS, MIDI, the notebook; and that it writes over nothing."""

from __future__ import annotations

import json
import os
from pathlib import Path

import mido
import pytest

from tests.cli.call import livecheck_call, write_midi

GRADE = ("grade", "lesson.toml", "take.mid")


def test_a_page_of_a_midi_take_has_the_sound_of_its_notes(folder: Path) -> None:
    write_midi(folder, late_s=0.15)
    done = livecheck_call(*GRADE, "--page", "take.html", folder=folder)
    assert (done.returncode, done.stderr) == (1, "")
    assert done.stdout.endswith("\nWritten: take.html\n")
    page = (folder / "take.html").read_text(encoding="utf-8")
    assert page.count("<audio") == 4
    assert "slide arrived" in page


def test_several_takes_stand_on_one_page_and_a_bad_one_is_left_out(folder: Path) -> None:
    write_midi(folder)
    write_midi(folder, "late.mid", late_s=0.15)
    (folder / "bad.wav").write_text("no sound")
    done = livecheck_call(*GRADE, "bad.wav", "late.mid", "--page", "takes.html", folder=folder)
    assert done.returncode == 2
    page = (folder / "takes.html").read_text(encoding="utf-8")
    assert page.count('class="take"') == 2
    assert page.count('id="wrong"') == 1


def test_a_page_tells_no_path_of_this_machine(folder: Path) -> None:
    write_midi(folder)
    paths = [str(folder / name) for name in ("lesson.toml", "take.mid", "take.html", "take.jams")]
    livecheck_call("grade", paths[0], paths[1], "--page", paths[2], "--jams", paths[3], folder=folder)
    for path in paths[2:]:
        text = Path(path).read_text(encoding="utf-8")
        assert "take.mid" in text
        assert str(folder) not in text
        assert folder.name not in text


def test_a_hostile_name_is_text_on_the_page(folder: Path) -> None:
    name = "<img src=x onerror=alert(1)>.mid"
    write_midi(folder, name)
    livecheck_call("grade", "lesson.toml", name, "--page", "take.html", folder=folder)
    page = (folder / "take.html").read_text(encoding="utf-8")
    assert "&lt;img src=x onerror=alert(1)&gt;.mid" in page
    assert "<img" not in page


def test_jams_and_midi(folder: Path) -> None:
    write_midi(folder)
    done = livecheck_call(*GRADE, "--jams", "take.jams", "--midi", "heard.mid", folder=folder)
    assert done.returncode == 0
    assert json.loads((folder / "take.jams").read_text())["file_metadata"]["title"] == "take.mid"
    assert len(mido.MidiFile(folder / "heard.mid").tracks) == 4
    again = livecheck_call("grade", "lesson.toml", "heard.mid", folder=folder)
    assert again.returncode == 0


@pytest.mark.parametrize("option", ["--page", "--jams", "--midi"])
def test_nothing_is_written_over_without_being_asked(folder: Path, option: str) -> None:
    write_midi(folder)
    (folder / "there").write_text("mine")
    done = livecheck_call(*GRADE, option, "there", folder=folder)
    assert done.returncode == 2
    assert "there is there already; wanted another name, or --overwrite" in done.stderr
    assert (folder / "there").read_text() == "mine"
    assert livecheck_call(*GRADE, option, "there", "--overwrite", folder=folder).returncode == 0
    assert (folder / "there").read_bytes() != b"mine"
    assert sorted(path.name for path in folder.iterdir()) == ["lesson.toml", "take.mid", "there", "three.toml"]


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--page", "nowhere/take.html"), "lies in no folder that is there"),
        (("--page", "."), "is a folder; wanted a file"),
        (("take.mid", "--midi", "x.mid"), "--midi is for one take; wanted one, there are 2"),
        (("--beside",), "--beside is for two takes; wanted two, there is 1"),
        (("--jobs", "2"), "--jobs belongs to --out FOLDER"),
        (("--lessons", "."), "--lessons belongs to --out FOLDER"),
        (("--no-pages",), "--no-pages belongs to --out FOLDER"),
        (("--longest", "0"), "--longest is 0 minutes; wanted more than 0"),
        (("--longest", "0.1"), "take.mid: is longer than 0.1 minutes; wanted a take"),
    ],
)
def test_calls_that_cannot_be_meant(folder: Path, more: tuple[str, ...], said: str) -> None:
    write_midi(folder)
    done = livecheck_call(*GRADE, *more, folder=folder)
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert done.stderr.count("\n") == 1


def test_two_takes_beside_each_other(folder: Path) -> None:
    write_midi(folder, late_s=0.15)
    write_midi(folder, "better.mid")
    done = livecheck_call(*GRADE, "better.mid", "--beside", "--page", "both.html", folder=folder)
    assert done.returncode == 1
    shown = [line.rstrip() for line in done.stdout.splitlines()]
    at = shown.index("Figure 1")
    assert shown[at + 1].startswith("  1  1 mistake, time off ")
    assert shown[at + 2].startswith("  2  clean, time off ")
    assert shown[at + 3].startswith("     gone   step 2, strings 1 and 3: slide arrived 150 ms late")
    assert 'class="pair"' in (folder / "both.html").read_text(encoding="utf-8")


def test_verdicts_are_kept_for_history_once_for_each_file(folder: Path) -> None:
    write_midi(folder, "2026-11-03 take.mid", late_s=0.15)
    write_midi(folder, "2026-11-10 take.mid")
    for name in ("2026-11-03 take.mid", "2026-11-10 take.mid", "2026-11-10 take.mid"):
        livecheck_call("grade", "lesson.toml", name, "--keep", "kept", folder=folder)
    done = livecheck_call("history", "lesson.toml", "--keep", "kept", folder=folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert "4 attempts on 2 days" in done.stdout
    assert "2026-11-03       1       0" in done.stdout
    assert "2026-11-10       1       1" in done.stdout


def test_keep_without_a_folder_is_where_playing_live_keeps(folder: Path) -> None:
    write_midi(folder)
    home = {"XDG_DATA_HOME": str(folder / "data")}
    assert livecheck_call("grade", "--keep", "lesson.toml", "take.mid", folder=folder, environment=home).returncode == 0
    assert (folder / "data" / "livecheck" / "attempts.sqlite").is_file()
    assert livecheck_call("history", "lesson.toml", folder=folder, environment=home).returncode == 0


def test_a_place_that_cannot_keep_is_told(folder: Path) -> None:
    write_midi(folder)
    (folder / "file").write_text("")
    done = livecheck_call(*GRADE, "--keep", "file/x", folder=folder)
    assert done.returncode == 2
    assert "the verdict cannot be kept" in done.stderr
    assert done.stderr.count("\n") == 1
    assert "CLEAN" in done.stdout, "what was graded is told all the same"
    both = livecheck_call("grade", "lesson.toml", "take.mid", "take.mid", "--keep", "file/x", folder=folder)
    assert (both.returncode, both.stderr) == (2, done.stderr)
    assert "NOT GRADED" not in both.stdout
    assert os.listdir(folder)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--page", "take.mid", "--overwrite"], "--page: take.mid is what is read; wanted another file"),
        (["--jams", "./lesson.toml", "--overwrite"], "--jams: ./lesson.toml is what is read"),
        (["--midi", "linked.mid", "--overwrite"], "--midi: linked.mid is what is read"),
        (["--page", "one", "--jams", "./one", "--overwrite"], "one is named for --page and for --jams; wanted a file"),
        (["--page", ""], "--page: the name is empty; wanted a file"),
        (["--page", os.devnull, "--overwrite"], f"--page: {os.devnull} is a pipe or a device; wanted a file"),
    ],
)
def test_nothing_that_is_read_or_written_is_written_over(folder: Path, options: list[str], said: str) -> None:
    write_midi(folder)
    (folder / "linked.mid").symlink_to("take.mid")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    done = livecheck_call(*GRADE, *options, folder=folder)
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
