"""Jobs in processes: one that crashes, hangs or cannot be used takes nobody along."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from datetime import date
from multiprocessing.connection import Connection
from pathlib import Path

import pytest

from livecheck.grading import cores, work
from livecheck.grading.cores import on_cores
from livecheck.grading.job import Candidate, Job, key_of
from livecheck.grading.process import no_interrupt
from livecheck.grading.work import Result, done
from tests.cli.call import write_lesson, write_midi
from tests.pages.example import LESSON, asked


def job_on(path: Path, name: str = "") -> Job:
    return Job(str(path), name or path.name, "Ann", date(2026, 11, 3), (Candidate("lesson", asked()),), False)


def crashing(job: Job, key: str, path: str | None = None) -> Result:
    """Stands in for a decoder that crashes, or never comes back."""
    if "crash" in job.name:
        os._exit(11)
    if "hang" in job.name:
        time.sleep(60.0)
    return done(job, key, path)


def _serve(pipe: Connection) -> None:
    cores.done = crashing  # type: ignore[attr-defined] # imported there, not its own
    SERVE(pipe)


SERVE = cores._serve  # noqa: SLF001


def test_one_that_crashes_and_one_that_hangs_take_nobody_along(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "_serve", _serve)
    bad = tmp_path / "bad.wav"
    bad.write_text("no sound")
    names = ["1", "crash", "2", "hang", "3", "4"]
    results = {
        one.record["take"]: one.record for one in on_cores([(job_on(bad, n), n) for n in names], 2, patience_s=6.0)
    }
    assert set(results) == set(names)
    for name in ("1", "2", "3", "4"):
        assert results[name]["error"].startswith("is not audio")
        assert "lasting" not in results[name]
    assert results["crash"]["error"] == "the process that graded it ended (status 11)"
    assert results["hang"]["error"] == "was not graded within 0.1 minutes"
    assert results["crash"]["lasting"] is results["hang"]["lasting"] is False


def test_a_fault_in_livecheck_is_told_and_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("x")

    monkeypatch.setattr(work, "play", broken)
    record = done(job_on(tmp_path / "take.wav"), "0").record
    assert record["error"] == "something went wrong in livecheck itself: ZeroDivisionError (x)"
    assert record["lasting"] is False


def test_the_key_is_of_the_content_and_of_all_it_is_judged_by(tmp_path: Path) -> None:
    one, same, other = (tmp_path / name for name in ("1.wav", "2.wav", "3.wav"))
    for path, content in ((one, b"x"), (same, b"x"), (other, b"y")):
        path.write_bytes(content)
    assert key_of(job_on(one, "take")) == key_of(job_on(same, "take"))
    assert key_of(job_on(one, "take")) != key_of(job_on(other, "take"))
    assert key_of(job_on(one, "take")) != key_of(job_on(one, "another"))


def test_the_lesson_that_was_played_is_found(tmp_path: Path) -> None:
    """The small lesson of the command's tests, among two."""
    from livecheck.grading.take import Asked
    from livecheck.judging.brief import Brief
    from livecheck.sources.library import lesson_tolerances, load_input, load_lesson

    write_lesson(tmp_path)
    path = str(tmp_path / "lesson.toml")
    take = tmp_path / write_midi(tmp_path)
    lesson = load_lesson(path)
    small = Asked(
        Brief(lesson, lesson.figures, lesson_tolerances(lesson, path)), load_input("channel-per-string").for_strings(3)
    )
    both = (Candidate("waltz", asked()), Candidate("rain", small))
    task = Job(str(take), "take.mid", "Ann", date(2026, 11, 3), both, False)
    record = done(task, "0").record
    assert (record["lesson_file"], record["clean"]) == ("rain", True)
    assert LESSON.endswith("lesson.toml")


def test_an_interrupt_while_processes_start_is_the_programs_own() -> None:
    child: list[str] = []

    def start_and_interrupt() -> None:
        with no_interrupt():
            signal.pthread_kill(threading.get_ident(), signal.SIGINT)
            program = "import os, signal; os.kill(os.getpid(), signal.SIGINT); print('goes on')"
            child.append(
                subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False).stdout
            )

    with pytest.raises(KeyboardInterrupt):
        start_and_interrupt()
    assert child == ["goes on\n"]
