"""`livecheck grade … --out`: a class as a teacher has it on the disk."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import mido
import pytest

from livecheck.demo.planted import path_of
from tests.cli.call import livecheck_call, variables, write_midi
from tests.pages.test_markup import read


@pytest.fixture
def takes(folder: Path) -> Path:
    """Anna twice, Bo once, a file that is no take."""
    for name, late_s in (("Anna/2026-11-03.mid", 0.15), ("Anna/2026-11-10.mid", 0.0), ("Bo/take.mid", 0.15)):
        path = folder / "takes" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        write_midi(folder, late_s=late_s)
        (folder / "take.mid").rename(path)
    (folder / "takes" / "Bo" / "bad.wav").write_text("no sound")
    (folder / "takes" / "Bo" / "notes.txt").write_text("not a take")
    return folder


def graded(folder: Path, *more: str, status: int = 2) -> str:
    done = livecheck_call("grade", "lesson.toml", "takes", "--out", "class", *more, folder=folder)
    assert (done.returncode, done.stderr) == (status, "")
    return done.stdout


def records(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "class" / "results.jsonl").read_text("utf-8").splitlines()]


def test_results_table_overview_and_pages(takes: Path) -> None:
    said = graded(takes)
    assert "4 takes of 2 students: 1 clean, 2 not clean, 1 not graded" in said
    assert "not graded: Bo/bad.wav: is not audio" in said
    found = records(takes)
    assert [(one["take"], one["student"]) for one in found] == [
        ("Anna/2026-11-03.mid", "Anna"),
        ("Anna/2026-11-10.mid", "Anna"),
        ("Bo/bad.wav", "Bo"),
        ("Bo/take.mid", "Bo"),
    ]
    assert found[0]["format"] == 1
    assert found[1]["clean"] is True
    table = (takes / "class" / "results.csv").read_text("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(table, newline="")))
    assert [(row["student"], row["figure"], row["result"]) for row in rows[:2]] == [
        ("Anna", "1", "not clean"),
        ("Anna", "2", "not clean"),
    ]
    overview = read((takes / "class" / "overview.html").read_text("utf-8"))
    links = [attributes["href"] or "" for tag, attributes in overview.tags if tag == "a"]
    assert len(links) == 2
    weeks = next((takes / "class" / "students").glob("anna-*-weeks.html"))
    assert "over weeks" in (takes / "class" / links[0]).read_text("utf-8")
    assert "2026-11-03" in weeks.read_text("utf-8")
    assert all((takes / "class" / link).is_file() for link in links)
    assert "1 of 2 students: figure 1, step 2, strings 1 and 3: late" in overview.text
    assert "Not graded" in overview.text
    anna = (takes / "class" / links[0]).read_text("utf-8")
    assert anna.index("2026-11-10") < anna.index("2026-11-03")
    for path in (takes / "class").rglob("*"):
        assert path.is_dir() or takes.name not in path.read_text("utf-8", "replace")


def test_one_core_two_and_a_second_run_come_to_the_same(takes: Path) -> None:
    graded(takes, "--jobs", "2")
    first = (takes / "class" / "results.jsonl").read_bytes()
    graded(takes, "--jobs", "1")
    assert (takes / "class" / "results.jsonl").read_bytes() == first
    (takes / "class").rename(takes / "before")
    graded(takes, "--jobs", "1")
    assert (takes / "class" / "results.jsonl").read_bytes() == first


def test_what_is_done_is_not_done_again(takes: Path) -> None:
    graded(takes)
    part = next((takes / "class" / ".done").glob("*.html"))
    part.write_text("<p>from before</p>", encoding="utf-8")
    write_midi(takes, late_s=0.0)
    shutil.move(takes / "take.mid", takes / "takes" / "Cy.mid")
    assert "5 takes of 3 students" in graded(takes)
    pages = [path.read_text("utf-8") for path in (takes / "class" / "students").iterdir()]
    assert sum("from before" in page for page in pages) == 1


def test_a_run_that_is_killed_goes_on(takes: Path) -> None:
    for number in range(12):
        shutil.copy(takes / "takes" / "Bo" / "take.mid", takes / "takes" / "Bo" / f"{number}.mid")
    call = [sys.executable, "-m", "livecheck", "grade", "lesson.toml", "takes", "--out", "class", "--jobs", "1"]
    run = subprocess.Popen(call, cwd=takes, env=variables(), stdout=subprocess.DEVNULL, start_new_session=True)
    results = takes / "class" / "results.jsonl"
    end_s = time.monotonic() + 30.0
    while time.monotonic() < end_s and not (results.exists() and results.read_bytes().count(b"\n") >= 3):
        time.sleep(0.02)
    os.killpg(run.pid, signal.SIGKILL)
    run.wait()
    before = results.read_bytes()
    assert 3 <= before.count(b"\n") < 16
    results.write_bytes(before + b'{"key": "cut')
    graded(takes)
    assert len(records(takes)) == 16
    kept = {line for line in before.splitlines() if b'"lasting"' not in line}
    assert kept <= set(results.read_bytes().splitlines())


def test_a_run_that_is_interrupted_says_so_in_one_line(takes: Path) -> None:
    for number in range(12):
        shutil.copy(takes / "takes" / "Bo" / "take.mid", takes / "takes" / "Bo" / f"{number}.mid")
    call = [sys.executable, "-m", "livecheck", "grade", "lesson.toml", "takes", "--out", "class", "--jobs", "1"]
    run = subprocess.Popen(call, cwd=takes, env=variables(), stderr=subprocess.PIPE, text=True, start_new_session=True)
    results = takes / "class" / "results.jsonl"
    end_s = time.monotonic() + 30.0
    while time.monotonic() < end_s and not (results.exists() and results.read_bytes().count(b"\n") >= 2):
        time.sleep(0.02)
    os.killpg(run.pid, signal.SIGINT)
    _, said = run.communicate(timeout=30)
    assert (run.returncode, said) == (130, "livecheck: stopped\n")
    graded(takes)
    assert len(records(takes)) == 16


def test_another_s_folder_and_files_that_were_changed_are_left_alone(takes: Path) -> None:
    (takes / "class").mkdir()
    (takes / "class" / "mine.txt").write_text("mine")
    call = ("grade", "lesson.toml", "takes", "--out", "class")
    refused = livecheck_call(*call, folder=takes)
    assert refused.returncode == 2
    assert "is there already and holds other files" in refused.stderr
    (takes / "class" / "mine.txt").unlink()
    graded(takes)
    table = takes / "class" / "results.csv"
    table.write_text("with my own marks")
    refused = livecheck_call(*call, folder=takes)
    assert refused.returncode == 2
    assert "results.csv: is not as livecheck wrote it" in refused.stderr
    assert table.read_text() == "with my own marks"
    graded(takes, "--overwrite")
    assert table.read_text("utf-8-sig").startswith('"student"')


def test_lessons_by_name_and_by_what_was_played(takes: Path) -> None:
    lessons = takes / "lessons"
    lessons.mkdir()
    shutil.move(takes / "lesson.toml", lessons / "rain.toml")
    shutil.move(takes / "three.toml", lessons / "three.toml")
    shutil.copy(path_of("lesson.toml"), lessons / "waltz.toml")
    shutil.copy(path_of("take.ogg"), takes / "takes" / "Cy waltz.ogg")
    done = livecheck_call("grade", "--lessons", "lessons", "takes", "--out", "class", folder=takes)
    assert (done.returncode, done.stderr) == (2, "")
    assert {one["take"]: one.get("lesson_file") for one in records(takes)} == {
        "Anna/2026-11-03.mid": "rain",
        "Anna/2026-11-10.mid": "rain",
        "Bo/bad.wav": None,
        "Bo/take.mid": "rain",
        "Cy waltz.ogg": "waltz",
    }


def test_json_and_no_pages(takes: Path) -> None:
    documents = json.loads(graded(takes, "--json", "--no-pages"))
    assert [document["take"] for document in documents][-1] == "Bo/take.mid"
    assert not (takes / "class" / "students").exists()
    overview = read((takes / "class" / "overview.html").read_text("utf-8"))
    assert not [tag for tag, _ in overview.tags if tag == "a"]


def test_long_uploads_are_refused_by_the_limit_and_told(takes: Path) -> None:
    said = graded(takes, "--longest", "0.1")
    assert "is longer than 0.1 minutes; wanted a take within that" in " ".join(said.split())
    assert "4 not graded" in said


def test_hostile_names_are_text_everywhere(folder: Path) -> None:
    names = ["<script>alert(1)</script>", "=HYPERLINK(1)", "'; onload='x"]
    for name in names:
        write_midi(folder, late_s=0.15)
        path = folder / "takes" / name.replace("/", "\u2215")
        path.mkdir(parents=True)
        (folder / "take.mid").rename(path / "@take.mid")
    graded(folder, status=1)
    plain = {"html", "head", "meta", "link", "title", "style", "body", "header", "h1", "p", "main", "section", "h2"}
    plain |= {"h3", "ol", "li", "div", "table", "caption", "thead", "tbody", "tr", "th", "td", "a", "strong", "em"}
    overview = read((folder / "class" / "overview.html").read_text("utf-8"))
    assert {tag for tag, _ in overview.tags} <= plain
    rows = csv.DictReader(io.StringIO((folder / "class" / "results.csv").read_text("utf-8-sig"), newline=""))
    assert {row["student"] for row in rows} == {"<script>alert(1)<\u2215script>", "'=HYPERLINK(1)", "'; onload='x"}
    for path in (folder / "class" / "students").iterdir():
        assert path.name.isascii()


def test_names_that_are_no_text_and_names_that_are_long(folder: Path) -> None:
    """A file system may hold any bytes but / and 0."""
    for name in (b"\xff\xfe", b"two\nlines", b"x" * 200, b"\xe2\x80\xaegnp"):
        write_midi(folder, late_s=0.15)
        (folder / "takes").mkdir(exist_ok=True)
        os.rename(os.fsencode(folder / "take.mid"), os.fsencode(folder / "takes") + b"/" + name + b".mid")
    said = graded(folder, status=1)
    assert "4 takes of 4 students: 4 not clean" in said
    pages = list((folder / "class" / "students").iterdir())
    assert len(pages) == 4
    assert all(len(page.name) < 60 for page in pages)


def test_history_of_a_student_in_a_class(takes: Path) -> None:
    graded(takes)
    call = ("history", "lesson.toml", "--results", "class")
    refused = livecheck_call(*call, folder=takes)
    assert "wanted --student NAME: Anna, Bo" in refused.stderr
    done = livecheck_call(*call, "--student", "Anna", "--page", "anna.html", folder=takes)
    assert (done.returncode, done.stderr) == (0, "")
    assert "2026-11-03       1       0" in done.stdout
    page = (takes / "anna.html").read_text("utf-8")
    assert page.count("<svg") == 6
    assert "Anna" in page
    again = livecheck_call(*call, "--student", "Anna", "--page", "anna.html", folder=takes)
    assert "is there already" in again.stderr
    unknown = livecheck_call(*call, "--student", "Cy", folder=takes)
    assert "has no take of" in unknown.stderr


def test_a_pipe_among_the_takes_holds_nothing_up(takes: Path) -> None:
    os.mkfifo(takes / "takes" / "Bo" / "pipe.wav")
    assert "not graded: Bo/pipe.wav: is a pipe or a device, not a file; wanted a take" in graded(takes)


def test_a_take_of_something_else_is_named_once(takes: Path) -> None:
    track = mido.MidiTrack([mido.Message("note_on", note=66, velocity=90), mido.Message("note_off", note=66, time=900)])
    mido.MidiFile(tracks=[track]).save(takes / "takes" / "Bo" / "other.mid")
    assert "not graded: Bo/other.mid: no figure of this lesson was found" in graded(takes)


def test_a_folder_that_was_changed_leaves_no_file_open(takes: Path) -> None:
    graded(takes)
    (takes / "class" / "overview.html").write_text("mine", encoding="utf-8")
    call = ("grade", "lesson.toml", "takes", "--out", "class")
    done = livecheck_call(*call, folder=takes, environment={"PYTHONWARNINGS": "error"})
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
