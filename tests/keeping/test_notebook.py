"""The database of attempts: what was noted is there, whenever the process is killed."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from livecheck.errors import Unusable
from livecheck.keeping.attempt import Attempt
from livecheck.keeping.notebook import Notebook
from tests.cli.call import variables

BEGAN = datetime(2026, 11, 2, 18, 30, tzinfo=UTC)
ONE = Attempt("1", 1, BEGAN, 0.5, True, True, 0, '{"figure": "1"}')
KILLS = 100
ENDLESS = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from livecheck.keeping.attempt import Attempt
from livecheck.keeping.notebook import Notebook
notebook = Notebook(Path(sys.argv[1]))
began = datetime.now(UTC)
take = notebook.begin("Lesson", "midi", began, "take.mid")
for number in range(1, 100_000):
    notebook.keep(take, [Attempt("1", number, began, 0.5, True, True, 0, "{}" + " " * 3000)])
    print(take, number, flush=True)
"""
GROWING = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from livecheck.keeping.attempt import Attempt
from livecheck.keeping.notebook import Notebook
def resident():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096
notebook = Notebook(Path(sys.argv[1]))
began = datetime.now(UTC)
take = notebook.begin("Lesson", "audio", began, "take.flac")
for number in range(300):
    if number == 20:
        before = resident()
    notebook.keep(take, [Attempt("1", number, began, 0.5, True, True, 0, "{}" + " " * 10_000)])
print(resident() - before)
"""


def test_attempts_come_back_as_they_were_noted_in_order_of_time(tmp_path: Path) -> None:
    notebook = Notebook(tmp_path / "attempts.sqlite")
    later, earlier = notebook.begin("L", "midi", BEGAN, "b.mid"), notebook.begin("L", "audio", BEGAN, "a.flac")
    other = notebook.begin("Another", "midi", BEGAN, "c.mid")
    notebook.keep(later, [replace(ONE, began=BEGAN + timedelta(days=1), clean=False, gaps=2)])
    notebook.keep(earlier, [replace(ONE, number=2, start_s=9.5), ONE])
    notebook.keep(other, [ONE])
    notebook.close()
    assert Notebook(tmp_path / "attempts.sqlite").attempts("L") == [
        replace(ONE, take="a.flac"),
        replace(ONE, number=2, start_s=9.5, take="a.flac"),
        replace(ONE, began=BEGAN + timedelta(days=1), clean=False, gaps=2, take="b.mid"),
    ]


def test_the_end_of_a_take_revises_what_was_told_before(tmp_path: Path) -> None:
    notebook = Notebook(tmp_path / "attempts.sqlite")
    first, second = (notebook.begin("L", "midi", BEGAN, path) for path in ("a.mid", "b.mid"))
    for take in (first, second):
        notebook.keep(take, [ONE, replace(ONE, figure="2")])
    notebook.keep(first, [replace(ONE, clean=False)])
    assert [(a.figure, a.clean) for a in notebook.attempts("L") if a.take == "a.mid"] == [("1", False), ("2", True)]
    notebook.revise(first, [replace(ONE, provisional=False)])
    assert [(a.take, a.figure, a.provisional) for a in notebook.attempts("L")] == [
        ("a.mid", "1", False),
        ("b.mid", "1", True),
        ("b.mid", "2", True),
    ]


def test_all_or_nothing(tmp_path: Path) -> None:
    notebook = Notebook(tmp_path / "attempts.sqlite")
    take = notebook.begin("L", "midi", BEGAN, "a.mid")
    notebook.keep(take, [ONE])
    broken = replace(ONE, number=2, verdict=None)  # type: ignore[arg-type]
    with pytest.raises(sqlite3.IntegrityError):
        notebook.revise(take, [replace(ONE, clean=False), broken])
    assert [(a.number, a.clean) for a in notebook.attempts("L")] == [(1, True)]


def test_two_programs_write_at_the_same_time(tmp_path: Path) -> None:
    one, other = Notebook(tmp_path / "attempts.sqlite"), Notebook(tmp_path / "attempts.sqlite")
    takes = [notebook.begin("L", "midi", BEGAN, f"{n}.mid") for n, notebook in enumerate((one, other))]
    for number in range(1, 20):
        for notebook, take in zip((one, other), takes, strict=True):
            notebook.keep(take, [replace(ONE, number=number)])
    assert len(one.attempts("L")) == 38


def test_a_newer_format_is_left_alone(tmp_path: Path) -> None:
    with sqlite3.connect(tmp_path / "attempts.sqlite") as database:
        database.execute("PRAGMA user_version = 2")
    database.close()
    with pytest.raises(Unusable, match="written by a newer livecheck"):
        Notebook(tmp_path / "attempts.sqlite")


def test_no_attempt_is_lost_and_the_database_stays_sound_when_the_process_is_killed(tmp_path: Path) -> None:
    path = tmp_path / "attempts.sqlite"
    moments = random.Random(11)
    told: set[tuple[int, int]] = set()
    for _ in range(KILLS):
        call = [sys.executable, "-c", ENDLESS, str(path)]
        with subprocess.Popen(call, env=variables(), stdout=subprocess.PIPE, text=True) as process:
            time.sleep(moments.uniform(0.05, 0.2))
            process.send_signal(signal.SIGKILL)
            output, _ = process.communicate()
        # A line that broke off may be the beginning of a longer number.
        whole = output[: output.rfind("\n") + 1].splitlines()
        told |= {(int(take), int(number)) for take, number in (line.split() for line in whole)}
    with sqlite3.connect(path) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        kept = set(database.execute("SELECT take, number FROM attempt"))
    database.close()
    assert told <= kept
    assert len({take for take, _ in told}) > KILLS // 4


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="the kernel does not say how much memory is used")
def test_what_was_noted_lies_on_the_disk_only(tmp_path: Path) -> None:
    """Three megabytes of verdicts; SQLite's own cache would hold two of them (its documented default)."""
    grown = subprocess.run(
        [sys.executable, "-c", GROWING, str(tmp_path / "attempts.sqlite")],
        check=True, capture_output=True, text=True, env=variables(),
    ).stdout  # fmt: skip
    assert int(grown) < 500_000
