"""`livecheck history`: what was kept, as a person reads it."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from livecheck.keeping.attempt import Attempt
from livecheck.keeping.notebook import Notebook
from tests.cli.call import livecheck_call

BEGAN = datetime(2026, 11, 2, 18, 30, tzinfo=UTC)
ARGUMENTS = ("history", "lesson.toml", "--keep", "kept")


def keep(folder: Path, attempts: list[tuple[int, list[tuple[int, int, str, float]], int]]) -> None:
    """Attempts at figure 1 as (days after the first, (step, string, fault, how late in ms), gaps)."""
    (folder / "kept").mkdir()
    notebook = Notebook(folder / "kept" / "attempts.sqlite")
    take = notebook.begin("Rain on the shed", "midi", BEGAN, "take.mid")
    for number, (days, checkpoints, gaps) in enumerate(attempts, start=1):
        documents: list[dict[str, Any]] = [
            {
                "step": step,
                "string": string,
                "judged": True,
                "timing_ms": timing_ms,
                "cents": 3.0,
                "faults": [fault] if fault else [],
                "cause": None,
            }
            for step, string, fault, timing_ms in checkpoints
        ]
        verdict = json.dumps({"checkpoints": documents, "extras": []})
        clean = not any(fault for _, _, fault, _ in checkpoints)
        notebook.keep(take, [Attempt("1", number, BEGAN + timedelta(days=days), 0.5, clean, False, gaps, verdict)])
    notebook.close()


def test_days_and_what_gets_better_and_what_stays_wrong(folder: Path) -> None:
    late, short = (2, 1, "late", 180.0), (3, 2, "cut-short", 10.0)
    fine = (2, 1, "", 20.0)
    keep(folder, [(0, [late, short], 0)] * 3 + [(2, [fine, short], 0)] * 2 + [(2, [fine], 0), (2, [late], 1)])
    done = livecheck_call(*ARGUMENTS, folder=folder, environment={"TZ": "UTC"})
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == (
        "\n"
        "Rain on the shed: 7 attempts on 2 days\n"
        "\n"
        "Figure 1\n"
        "  day          tries   clean   time off   pitch off\n"
        "  2026-11-02       3       0      95 ms     3 cents\n"
        "  2026-11-04       3       1      20 ms     3 cents\n"
        "  1 attempt with a gap in the sound left out\n"
        "  better       step 2, string 1: late (0 of the last 3, 3 of 3 before)\n"
        "  still wrong  step 3, string 2: cut short (2 of the last 3, 3 of 3 before)\n"
        "\n"
        "Figure 2: not tried yet\n"
    )


def test_only_the_figures_asked_for(folder: Path) -> None:
    keep(folder, [(0, [(2, 1, "", 20.0)], 0)])
    done = livecheck_call(*ARGUMENTS, "--figure", "1", folder=folder)
    assert "Figure 1" in done.stdout
    assert "Figure 2" not in done.stdout
    done = livecheck_call(*ARGUMENTS, "--figure", "9", folder=folder)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == 'livecheck: lesson.toml: has no figure "9"; wanted one of "1", "2"\n'


def test_nothing_kept_is_one_sentence(folder: Path) -> None:
    for _ in range(2):
        done = livecheck_call(*ARGUMENTS, folder=folder)
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr == (
            'livecheck: kept: nothing is kept of "Rain on the shed"; wanted attempts, play some with '
            "livecheck listen lesson.toml\n"
        )
        assert list(folder.glob("kept/*")) == []
        (folder / "kept").mkdir(exist_ok=True)


def test_a_notebook_that_is_no_database_is_one_sentence(folder: Path) -> None:
    (folder / "kept").mkdir()
    (folder / "kept" / "attempts.sqlite").write_text("no database" * 1000, encoding="ascii")
    done = livecheck_call(*ARGUMENTS, folder=folder)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        "livecheck: kept/attempts.sqlite: cannot be read (file is not a database); wanted what livecheck has kept\n"
    )


@pytest.mark.parametrize(
    ("column", "value"),
    [("began", "yesterday"), ("gaps", "many"), ("verdict", "{}"), ("verdict", "-1"), ("number", 0.5)],
)
def test_a_database_that_was_written_into_gets_one_sentence(folder: Path, column: str, value: object) -> None:
    keep(folder, [(0, [(2, 1, "late", 180.0)], 0)])
    with closing(sqlite3.connect(folder / "kept" / "attempts.sqlite")) as database, database:
        database.execute(f"UPDATE attempt SET {column} = ?", (value,))
    done = livecheck_call(*ARGUMENTS, folder=folder)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("livecheck: kept/attempts.sqlite: cannot be read (")
    assert done.stderr.count("\n") == 1
