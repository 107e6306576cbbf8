"""`livecheck demo` names exactly what was planted, no more and no less."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from livecheck.cli import demo
from livecheck.cli.main import main
from livecheck.demo.planted import path_of
from livecheck.judging.verdict import TakeVerdict
from livecheck.sources.library import load_lesson
from tests.cli.call import livecheck_call

SAME_S = 0.15


def deaf(*_: object) -> TakeVerdict:
    """In place of grading: nothing is heard."""
    return TakeVerdict("A slow waltz in five figures", "take.ogg", "audio", 0.0, 78.0, ())


def test_the_report_names_exactly_what_was_planted(tmp_path: Path) -> None:
    done = livecheck_call("demo", "--json", folder=tmp_path)
    told = json.loads(done.stdout)
    wanted = json.loads(path_of("planted.json").read_text(encoding="utf-8"))
    assert done.stderr == ""
    assert [(f["figure"], f["attempt"]) for f in told["figures"]] == [
        (f["figure"], f["attempt"]) for f in wanted["figures"]
    ]
    for figure, planted in zip(told["figures"], wanted["figures"], strict=True):
        faulty = [row for row in figure["checkpoints"] if row["faults"]]
        assert [{key: row[key] for key in ("step", "string", "kind", "faults")} for row in faulty] == (
            planted["checkpoints"]
        ), figure["figure"]
        extras = [(extra["fault"], extra["string"]) for extra in figure["extras"]]
        assert extras == [(extra["fault"], extra["string"]) for extra in planted["extras"]], figure["figure"]
        for extra, other in zip(figure["extras"], planted["extras"], strict=True):
            assert extra["at_s"] == pytest.approx(other["at_s"], abs=SAME_S)
    assert done.returncode == 0


def test_at_the_terminal_it_tells_where_everything_is(tmp_path: Path) -> None:
    done = livecheck_call("demo", folder=tmp_path)
    told = dict(line.split(": ", 1) for line in done.stdout.splitlines() if ": " in line)
    assert load_lesson(told["The lesson"]).title in done.stdout
    assert Path(told["The take"]).samefile(path_of("take.ogg"))
    command = told["To see the lesson"].split()[1:]
    assert "Figure rise" in livecheck_call(*command, folder=tmp_path).stdout
    assert " 8 MISTAKES " in done.stdout
    assert done.stdout.endswith("\n8 mistakes were planted, 8 were found, nothing else.\n")
    assert (done.stderr, done.returncode) == ("", 0)


def test_paths_are_as_short_as_they_can_be_typed(monkeypatch: pytest.MonkeyPatch) -> None:
    path = path_of("lesson.toml")
    monkeypatch.chdir(path.parents[1])
    assert demo._short(path) == str(Path("demo", "lesson.toml"))  # noqa: SLF001 -- what it prints depends on where it lies


@pytest.mark.parametrize(
    ("called", "found", "told"),
    [
        (".venv/bin/livecheck", None, ".venv/bin/livecheck show "),
        (".venv/bin/livecheck", "/usr/bin/livecheck", "livecheck show "),
        ("livecheck/__main__.py", None, "livecheck show "),
    ],
)
def test_the_command_that_it_tells_can_be_typed(
    called: str, found: str | None, told: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(demo, "_graded", deaf)
    monkeypatch.setattr("sys.argv", [called, "demo"])
    monkeypatch.setattr("shutil.which", lambda _: found)
    main(["demo"])
    assert f"\nTo see the lesson: {told}" in capsys.readouterr().out


def test_anything_else_is_exit_status_1(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """A verdict that hears nothing wrong has found nothing of what was planted."""
    monkeypatch.setattr(demo, "_graded", deaf)
    assert main(["demo"]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "8 mistakes were planted, 0 were found, nothing else. Not found: late in figure rise" in told
    assert main(["demo", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["figures"] == []
