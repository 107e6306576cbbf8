"""`livecheck drill`, called as a person calls it."""

from __future__ import annotations

from pathlib import Path

import pytest

from livecheck.cli.call import call
from livecheck.sources.library import load_lesson
from tests.cli.call import livecheck_call


@pytest.fixture(autouse=True)
def _in_a_folder(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)


def told(capsys: pytest.CaptureFixture[str], *words: str, status: int = 0) -> str:
    assert call(["drill", *words]) == status
    captured = capsys.readouterr()
    return captured.out if status < 2 else captured.err


@pytest.mark.parametrize(
    ("kind", "title"),
    [
        ("scale", "Bb major up and down"),
        ("thirds", "Bb major in thirds"),
        ("sixths", "Bb major in sixths"),
        ("grips", "Bb major in three-note grips"),
        ("inversions", "Bb major chords I, IV and V up the neck"),
    ],
)
def test_every_exercise_is_a_lesson(capsys: pytest.CaptureFixture[str], kind: str, title: str) -> None:
    text = told(capsys, kind, "--key", "Bb")
    assert text.startswith(f"{title}\n")
    assert text.endswith(f"Written: drill-{kind}-Bb-major.toml\n")
    assert max(map(len, text.splitlines())) <= 80
    lesson = load_lesson(f"drill-{kind}-Bb-major.toml")
    assert (lesson.title, lesson.tempo, lesson.copedent_name) == (title, 60.0, "e9-ten-string")


def test_what_is_told_in_short(capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "inversions", "--key", "g", "--strings", "4,5,6", "--tempo", "72", "--out", "a.toml")
    assert "  I, G (strings 4, 5 and 6): 3   6+A+LKL   10+A+B   15   18+A+LKL\n" in text
    assert load_lesson("a.toml").tempo == 72.0
    assert " 5 at 7+A" in told(capsys, "scale", "--key", "A")


def test_nothing_is_written_over_unless_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, "scale", "--key", "F#", "--out", "b.toml")
    before = Path("b.toml").read_text(encoding="utf-8")
    assert "b.toml is there already" in told(capsys, "scale", "--key", "A", "--out", "b.toml", status=2)
    assert Path("b.toml").read_text(encoding="utf-8") == before
    told(capsys, "scale", "--key", "A", "--out", "b.toml", "--overwrite")
    assert Path("b.toml").read_text(encoding="utf-8") != before


def test_an_instrument_of_ones_own_is_found_from_where_the_lesson_is(capsys: pytest.CaptureFixture[str]) -> None:
    Path("drills").mkdir()
    told(capsys, "scale", "--key", "C", "--scale", "major-pentatonic", "--copedent", "three.toml",
         "--out", "drills/c.toml")  # fmt: skip
    lesson = load_lesson("drills/c.toml")
    assert lesson.copedent_name == "../three.toml"
    assert lesson.copedent.name == "Three strings and a pedal"


def test_a_lick_in_other_keys(capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "lick", "lesson.toml", "--figure", "2", "--by", "2,-1", "--ways", "3")
    assert text.startswith("2 elsewhere\n  2 up, 1: 1 at 12   to 12+P")
    lesson = load_lesson("drill-lick-2.toml")
    assert lesson.figures[0].steps[1].stance.down == {"P": 1.0}
    assert {figure.name.split(",")[0] for figure in lesson.figures} == {"2 up", "1 down"}
    assert lesson.tempo == 90.0
    Path("far").mkdir()
    told(capsys, "lick", "lesson.toml", "--out", "far/lick.toml", "--strings", "1,2,3")
    assert load_lesson("far/lick.toml").copedent_name == "../three.toml"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["scale"], "--key is missing; wanted the tonic"),
        (["scale", "--key", "H"], '--key is "H"; wanted the tonic, such as G, F# or Bb'),
        (["waltz", "--key", "G"], "invalid choice: 'waltz'"),
        (["scale", "--key", "G", "--scale", "odd"], "invalid choice: 'odd'"),
        (["scale", "--key", "G", "--octaves", "4"], "--octaves is 4; wanted 1 to 3"),
        (["thirds", "--key", "G", "--strings", "5"], "--strings names 1; wanted 2 or more for thirds"),
        (["thirds", "--key", "G", "--strings", "5,11"], "wanted different strings from 1 to 10"),
        (["thirds", "--key", "G", "--scale", "minor-pentatonic"], "which has 5 tones; wanted one of seven"),
        (["thirds", "--key", "G", "--strings", "1,10"], "cannot play G major in thirds on strings 1, 10"),
        (["thirds", "--key", "G", "--tempo", "0"], "--tempo is 0; wanted 1 to 1000 beats a minute"),
        (["thirds", "--key", "G", "--tempo", "fast"], "'fast' is no number"),
        (["thirds", "lesson.toml", "--key", "G"], '"lesson.toml" is given besides thirds'),
        (["thirds", "--key", "G", "--copedent", "nowhere"], '--copedent: there is no "nowhere"'),
        (["scale", "--key", "G", "--out", "nowhere/a.toml"], "lies in no folder"),
        (["lick"], "a lesson is missing"),
        (["lick", "lesson.toml", "--by", "x"], '--by is "x"; wanted whole semitones within 24'),
        (["lick", "lesson.toml", "--by", "99"], "wanted whole semitones within 24"),
        (["lick", "lesson.toml", "--figure", "9"], 'has no figure "9"'),
        (["lick", "lesson.toml", "--by", "0", "--strings", "1"], "can be played nowhere else"),
        (["lick", "lesson.toml", "--copedent", "e9-ten-string"], "has 10 strings; wanted 3"),
        (["lick", "nowhere.toml"], "cannot be read"),
    ],
)
def test_what_cannot_be_used(capsys: pytest.CaptureFixture[str], words: list[str], said: str) -> None:
    before = sorted(Path().iterdir())
    text = told(capsys, *words, status=2)
    assert said in text
    assert text.count("\n") == 1
    assert sorted(Path().iterdir()) == before


def test_as_a_command_and_then_shown(folder: Path) -> None:
    done = livecheck_call("drill", "sixths", "--key", "D", "--scale", "mixolydian", "--out", "d.toml", folder=folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert "D mixolydian in sixths" in livecheck_call("show", "d.toml", folder=folder).stdout


def test_the_readme_shows_what_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = readme.split("and says what is in it:\n\n", 1)[1].split("\n\nBesides", 1)[0]
    text = told(capsys, "inversions", "--key", "G", "--strings", "4,5,6")
    assert text.splitlines()[:-1] == [line.removeprefix("    ") for line in shown.splitlines()]
