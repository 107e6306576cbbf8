"""`livecheck show`, called as a person calls it."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

from livecheck.cli import show
from livecheck.cli.parser import Parser
from livecheck.errors import Unusable

LESSON = """
format = 1
title = "Back porch study"
tempo = 84
copedent = "own.toml"
[[figure]]
name = "1"
length = 4
steps = [{ beat = 1, fret = 10, pick = [1, 2] }, { beat = 3, down = ["P"] }]
[[figure]]
name = "the end"
length = 2
steps = [{ beat = 1, fret = 12, pick = [3] }]
"""
OWN = 'format = 1\nname = "three"\nstrings = ["B4", "G#4", "E4"]\n[changes]\nP = { 1 = 2 }\n'


@pytest.fixture
def lesson(tmp_path: Path) -> str:
    (tmp_path / "own.toml").write_text(OWN)
    (tmp_path / "lesson.toml").write_text(LESSON)
    return str(tmp_path / "lesson.toml")


def shown(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    parser = Parser(prog="livecheck")
    show.add(parser.add_subparsers())
    args: argparse.Namespace = parser.parse_args(["show", *words])
    assert args.run(args) == 0
    return capsys.readouterr().out


def test_all_figures(lesson: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    text = shown(capsys, lesson)
    assert "Figure 1, 4 beats" in text
    assert "Figure the end, 2 beats" in text
    assert "10P" in text
    assert "12P" not in text
    assert "P raises 1 by 2 semitones" in text
    assert "\x1b" not in text, "a pipe gets no colours"
    assert max(map(len, text.splitlines())) <= 80


def test_delay_times_at_the_foot(
    lesson: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 84 beats a minute; arithmetic."""
    monkeypatch.setenv("COLUMNS", "80")
    *_, last, rest = shown(capsys, lesson).splitlines()
    assert f"{last} {rest.strip()}" == (
        "delay, in ms: quarter 714, dotted eighth 536, quarter triplet 476, "
        "eighth 357, eighth triplet 238, sixteenth 179"
    )


def test_nothing_is_cut_off(lesson: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "9")
    text = shown(capsys, lesson)
    assert "10P" in text
    assert max(map(len, text.splitlines())) > 9


def test_named_figures_only(lesson: str, capsys: pytest.CaptureFixture[str]) -> None:
    text = shown(capsys, lesson, "--figure", "the end")
    assert "Figure the end" in text
    assert "Figure 1" not in text


def test_pitches_on_the_players_own_instrument(lesson: str, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    own = tmp_path / "tempered.toml"
    own.write_text(OWN.replace("[changes]", "string_cents = [2, -13.7, 0]\n[changes]"))
    assert "F#5-14" in shown(capsys, lesson, "--notes", "--copedent", str(own))
    assert "F#5-14" not in shown(capsys, lesson, "--notes")


def test_a_figure_that_the_lesson_lacks(lesson: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(Unusable, match='has no figure "9"; wanted one of "1", "the end"'):
        shown(capsys, lesson, "--figure", "9")


def test_a_copedent_for_another_instrument(lesson: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(Unusable, match="strings"):
        shown(capsys, lesson, "--copedent", "e9-ten-string")
