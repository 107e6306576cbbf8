"""What README.md and DEVELOPERS.md say is so."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import get_args

import pytest

from livecheck.cli import call
from livecheck.judging.verdict import Extra, Fault
from livecheck.lesson.document import LessonFile, StepFile
from livecheck.sources.library import load_lesson, names_of

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
COMMANDS = [command.__name__.rpartition(".")[2] for command in call.COMMANDS]
TREE = ("configs", "livecheck", "tests")
LESSONS = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)


def called(*arguments: str) -> str:
    call = [sys.executable, "-m", "livecheck", *arguments]
    return subprocess.run(call, cwd=ROOT, capture_output=True, encoding="utf-8", timeout=60, check=True).stdout


def table(heading: str) -> list[str]:
    """The first cells of the first table after a heading."""
    rows = re.findall(r"^\|(.*?)\|", README.split(heading, 1)[1].split("\n\n## ")[0], re.MULTILINE)
    return [row.strip() for row in rows if "---" not in row][1:]


def test_continuous_integration_runs_the_line_that_the_readme_tells() -> None:
    *_, line = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert f"\n    {line}\n" in README
    assert line.endswith(".venv/bin/pytest")


def test_the_lesson_can_be_used(tmp_path: Path) -> None:
    (written,) = LESSONS
    path = tmp_path / "porch-light.toml"
    path.write_text(written, encoding="utf-8")
    (figure,) = load_lesson(str(path)).figures
    assert [step.is_move for step in figure.steps] == [False, True, True, False]
    assert "Porch light" in called("show", str(path))


def test_every_key_of_a_step_is_told() -> None:
    told = {re.match(r"`(\w+)", cell)[1] for cell in table("What else a step can say") if cell.startswith("`")}  # type: ignore[index]
    assert told | {"ring"} == set(StepFile.__struct_fields__)
    for key in LessonFile.__struct_fields__:
        assert re.search(rf"\b{key}\b", README)


def test_every_fault_is_told() -> None:
    told = [fault for cell in table("## What the faults mean") for fault in re.findall(r"`([a-z-]+)`", cell)]
    assert sorted(told) == sorted([*get_args(Fault), *get_args(Extra)])


def test_every_option_is_told() -> None:
    told = {option for cell in table("## Options of") for option in re.findall(r"(--[a-z]+)", cell)}
    assert told == set(re.findall(r"^  (--[a-z]+)", called("grade", "--help"), re.MULTILINE))


@pytest.mark.parametrize("name", names_of("copedents"))
def test_every_copedent_is_told(name: str) -> None:
    assert f"`{name}`" in README


def test_every_command_that_is_told_exists() -> None:
    code = [*re.findall(r"`([^`\n]+)`", README), *re.findall(r"^    (.+)$", README, re.MULTILINE)]
    told = {command for line in code for command in re.findall(r"(?:^|/)livecheck ([a-z]+)", line)}
    assert "grade" in told
    assert told <= set(re.findall(r"^    ([a-z]+)(?: |$)", called("--help"), re.MULTILINE))


@pytest.mark.parametrize("command", COMMANDS)
def test_every_option_of_every_command_is_told(command: str) -> None:
    for option in re.findall(r"^  (--[a-z-]+)", called(command, "--help"), re.MULTILINE):
        assert f"`{option}" in README, command


def test_the_report_that_is_shown_is_the_one_that_is_printed() -> None:
    """Line by line; another machine may hear a few milliseconds or cents elsewhere."""
    shown = README.split("the worst of each figure first:\n\n", 1)[1].split("\n## ", 1)[0]
    printed = called("demo").split("\nThe lesson: ", 1)[0]
    assert [_without_numbers(line) for line in shown.splitlines() if line.strip()] == [
        _without_numbers(line) for line in printed.splitlines() if line.strip()
    ]


def _without_numbers(line: str) -> str:
    return re.sub(r"[0-9.]*[0-9](?= (?:ms|s|cents)\b| and [0-9]+ cents)", "#", line.strip())


def test_the_map_of_the_tree_names_every_folder_and_every_file_that_it_names_is_there() -> None:
    folders = {f"{path.parent.relative_to(ROOT)}/" for path in (ROOT / "livecheck").glob("*/**/__init__.py")}
    assert folders <= set(re.findall(r"^\| `([^`]+)`", DEVELOPERS, re.MULTILINE))
    paths = [f"/{path.relative_to(ROOT).as_posix()}" for top in TREE for path in (ROOT / top).rglob("*.*")]
    for named in re.findall(r"`([\w./-]+\.(?:py|json|toml|ogg))`", DEVELOPERS):
        assert any(path.endswith(f"/{named}") for path in [*paths, "/pyproject.toml"]), named
