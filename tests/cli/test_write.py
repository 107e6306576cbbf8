"""`livecheck write`, called as a person calls it."""

from __future__ import annotations

from pathlib import Path

import mido
import pytest
from music21 import converter

from livecheck.cli.call import call
from tests.cli.call import livecheck_call


@pytest.fixture(autouse=True)
def _in_a_folder(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)


def told(capsys: pytest.CaptureFixture[str], *words: str, status: int = 0) -> str:
    assert call(["write", *words]) == status
    captured = capsys.readouterr()
    return captured.out if status < 2 else captured.err


def test_all_formats_at_once(capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "lesson.toml", "--musicxml", "a.musicxml", "--tab", "a.txt", "--midi", "a.mid")
    assert text == "Written: a.musicxml\nWritten: a.txt\nWritten: a.mid\n"
    score = converter.parse("a.musicxml")
    assert [note.pitch.ps for note in score.flatten().notes if note.isNote][-3:] == [81.0, 83.0, 74.0]
    assert "B4 |-10--^10P-" in Path("a.txt").read_text(encoding="ascii")
    assert mido.MidiFile("a.mid").length > 5.0


def test_some_figures_at_another_tempo(capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, "lesson.toml", "--midi", "whole.mid")
    told(capsys, "lesson.toml", "--midi", "slow.mid", "--figure", "2", "--tempo", "45")
    markers = [m.text for m in mido.MidiFile("slow.mid").tracks[0] if m.type == "marker"]
    assert markers == ["2"]
    assert mido.MidiFile("slow.mid").length == pytest.approx(4 * 60.0 / 45.0, abs=0.01)


def test_on_the_players_own_instrument(capsys: pytest.CaptureFixture[str]) -> None:
    own = Path("three.toml").read_text().replace("[changes]", "string_cents = [30, 0, 0]\n[changes]")
    Path("own.toml").write_text(own)
    told(capsys, "lesson.toml", "--midi", "own.mid", "--copedent", "own.toml", "--figure", "2")
    bends = [m.pitch for m in mido.MidiFile("own.mid").tracks[1] if m.type == "pitchwheel"]
    assert bends[0] == round(0.3 / 12.0 * 8192), "two semitones and 30 cents need the next range"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["lesson.toml"], "no format is asked for; wanted --musicxml, --tab or --midi"),
        (["lesson.toml", "--tab", "lesson.toml"], "--tab: lesson.toml is there already"),
        (["lesson.toml", "--tab", "a", "--midi", "a"], "a is named for --tab and for --midi"),
        (["lesson.toml", "--tab", "nowhere/a.txt"], "lies in no folder"),
        (["lesson.toml", "--tab", "a.txt", "--figure", "9"], 'has no figure "9"'),
        (["lesson.toml", "--tab", "a.txt", "--tempo", "0"], "--tempo is 0; wanted 1 to 1000"),
        (["lesson.toml", "--tab", "a.txt", "--copedent", "e9-ten-string"], "has 10 strings; wanted 3"),
        (["nowhere.toml", "--tab", "a.txt"], "cannot be read"),
    ],
)
def test_what_cannot_be_used(capsys: pytest.CaptureFixture[str], words: list[str], said: str) -> None:
    before = sorted(Path().iterdir())
    text = told(capsys, *words, status=2)
    assert said in text
    assert text.count("\n") == 1
    assert sorted(Path().iterdir()) == before


def test_as_a_command(folder: Path) -> None:
    done = livecheck_call("write", "lesson.toml", "--tab", "rows.txt", folder=folder)
    assert (done.returncode, done.stdout, done.stderr) == (0, "Written: rows.txt\n", "")
    assert livecheck_call("write", "lesson.toml", "--tab", "rows.txt", "--overwrite", folder=folder).returncode == 0


def test_the_readme_shows_what_is_written(capsys: pytest.CaptureFixture[str]) -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    lesson = readme.split("```toml\n", 1)[1].split("```", 1)[0]
    Path("porch-light.toml").write_text(lesson, encoding="utf-8")
    told(capsys, "porch-light.toml", "--tab", "rows.txt")
    shown = [line.removeprefix("    ") for line in readme.splitlines() if line.startswith(("    B3 |", "    G#3|"))]
    assert len(shown) == 2
    assert set(shown) <= set(Path("rows.txt").read_text(encoding="ascii").splitlines())
