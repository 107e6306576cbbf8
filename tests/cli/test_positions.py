"""`livecheck positions`, called as a person calls it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from livecheck.cli.call import call
from tests.cli.call import livecheck_call, variables


def told(capsys: pytest.CaptureFixture[str], *words: str, status: int = 0) -> str:
    assert call(["positions", *words]) == status
    captured = capsys.readouterr()
    return captured.out if status < 2 else captured.err


def test_exact_notes(capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "E4 G4 C5", "--from", "8")
    assert "nearest to fret 8:" in " ".join(text.split())
    assert "   1. fret 8                    strings 6 5 4: E4 G4 C5             here\n" in text
    assert "squeeze  press A: Am   press B: Fsus2" in text
    assert "slide    down 2: A#   up 2: D   up 5: F   up 7: G" in text
    assert max(map(len, text.splitlines())) <= 80
    assert "\x1b" not in text


def test_a_chord_and_how_many(capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "Bbm7", "--most", "2", "--count", "4")
    assert "   2. " in text
    assert "   3. " not in text
    assert "places more; --most" in text
    assert "Bb" in text
    assert "A#" not in text


@pytest.mark.parametrize("chord", ["C", "Am7", "F#maj7", "Bb13", "C E G"])
@pytest.mark.parametrize("copedent", ["e9-ten-string", "c6-ten-string", "lap-steel-six-c6", "e9-ten-string-just"])
def test_every_line_fits(capsys: pytest.CaptureFixture[str], chord: str, copedent: str) -> None:
    assert call(["positions", chord, "--copedent", copedent, "--most", "500"]) in (0, 1)
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 80


def test_for_other_programs(capsys: pytest.CaptureFixture[str]) -> None:
    report = json.loads(told(capsys, "C4 E4 A4", "--json", "--from", "3 A B", "--strings", "1,5,6"))
    assert report["format"] == 1
    first = report["positions"][0]
    assert (first["fret"], first["down"], first["strings"], first["movement_frets"]) == (3.0, ["A", "B"], [6, 5, 1], 0)
    assert first["notes"] == ["C4", "E4", "A4"]
    assert first["chord"] == "Am"
    assert all(set(position["strings"]) == {1, 5, 6} for position in report["positions"])
    squeezed = {(s["change"], s["pressed"]): s["notes"] for s in first["squeezes"]}
    assert squeezed[("A", False)] == ["C4", "D4", "A4"]
    slanted = json.loads(told(capsys, "C", "--json", "--copedent", "lap-steel-six-c6"))["positions"]
    assert any("slant" in position for position in slanted)


def test_an_instrument_of_ones_own(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    text = told(capsys, "C#5", "--copedent", str(folder / "three.toml"))
    assert "fret 2                    string 1: C#5" in text
    assert "open with P               string 1: C#5" in text


def test_what_lies_nowhere(capsys: pytest.CaptureFixture[str]) -> None:
    assert "there is no place for it on E9" in told(capsys, "C1", status=1)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["H4"], '"H4" is no note; wanted notes such as "C4 E4 A4"'),
        ([""], "no note is given"),
        (["C4", "--from", "99"], '--from is "99"; wanted a fret from 0 to 24'),
        (["C4", "--from", ""], '--from is ""'),
        (["C4", "--from", "3 Q"], '--from names "Q"; the copedent has A, B, C'),
        (["C4", "--strings", "0"], '--strings is "0"; wanted different strings from 1 to 10'),
        (["C4", "--strings", "4,4"], "wanted different strings"),
        (["C4", "--copedent", "nowhere"], '--copedent: there is no "nowhere"'),
        (["C4 E4", "--count", "3"], "--count is 3, but 2 notes are given"),
        (["C", "--count", "9"], "9 notes at once; wanted no more than 4"),
        (["C", "--strings", "4,5"], "3 notes at once; wanted no more than 2"),
        (["C", "--most", "0"], "is no number from 1"),
    ],
)
def test_what_cannot_be_used(capsys: pytest.CaptureFixture[str], words: list[str], said: str) -> None:
    text = told(capsys, *words, status=2)
    assert said in text
    assert text.count("\n") == 1


def test_as_a_command(tmp_path: Path) -> None:
    done = livecheck_call("positions", "Am", folder=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "squeeze" in done.stdout


def test_the_readme_shows_what_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = readme.split("one slide from there leads to:\n\n", 1)[1].split("\n\nA chord", 1)[0]
    text = told(capsys, "C4 E4 A4", "--from", "3 A B")
    for line in shown.splitlines():
        assert line.removeprefix("    ") in text.splitlines()


def test_the_command_line_begins_without_what_takes_long_to_load() -> None:
    slow = ("numpy", "mido", "rich", "msgspec", "soundfile", "aubio")
    code = f"import sys, livecheck.cli.call; print([name for name in {slow} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], env=variables(), capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


@pytest.mark.parametrize("words", [["positions", "Am"], ["drill", "grips", "--key", "G", "--out", "g.toml"]])
def test_nothing_is_loaded_that_it_does_not_need(words: list[str], tmp_path: Path) -> None:
    code = f"import sys; from livecheck.cli.call import call; assert call({words}) == 0; print('numpy' in sys.modules)"
    call_of = [sys.executable, "-c", code]
    done = subprocess.run(call_of, cwd=tmp_path, env=variables(), capture_output=True, text=True, check=True)
    assert done.stdout.endswith("False\n")
