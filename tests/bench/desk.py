"""The teacher's desk in numbers: a take to its page, a class on one core and two, an overview in a browser, a cluster.

Whole processes, Python's start included, on the bundled take of 59 s. Where other programs use the cores too, time on
the clock says little, and how much faster two cores are says nothing: beside it stands the time that the processes
themselves had a core (user and system), and the load of the machine.
"""

from __future__ import annotations

import json
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

import msgspec

from livecheck.demo.planted import path_of
from livecheck.keeping.results import RESULTS, TakeRecord, read_results
from livecheck.pages.overview import overview_page
from tests.bench.stopwatch import Timed, timed

TAKE_S = 59.4
ARRANGING = """
import json, os, resource, time
from pathlib import Path
from livecheck.grading.results_folder import ResultsFolder
from livecheck.grading.school import publish
from livecheck.grading.work import Result
record = json.loads({line!r})
folder = ResultsFolder(Path({out!r}), overwrite=False)
keys = [str(number) for number in range({count})]
os.fsync = lambda descriptor: None
for number, key in enumerate(keys):
    folder.add(key, Result({{**record, "key": key, "student": f"student {{number % 500}}"}}))
began_s = time.perf_counter()
publish(keys, folder, with_pages=False)
print(time.perf_counter() - began_s, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""
ARCHIVE = 10_000
ONE_THREAD = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
LESSON, TAKE = str(path_of("lesson.toml")), str(path_of("take.ogg"))


def measure(takes: int, price: float, *, with_cluster: bool) -> None:
    """Print everything. `price`: of a core for an hour."""
    print(f"load of the machine before: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _page(folder)
        one = _class(folder, takes, 1)
        two = _class(folder, takes, 2)
        print(
            f"class: {takes} takes, one core {one.clock_s:.1f} s (busy {one.own_s:.1f} s), two cores "
            f"{two.clock_s:.1f} s (busy {two.own_s:.1f} s): {one.clock_s / two.clock_s:.2f} times as fast"
        )
        _overview(folder)
        _archive(folder)
        if with_cluster:
            for workers in (1, 2):
                _cluster(folder, takes, workers, price)
    print(f"load of the machine after: {os.getloadavg()[0]:.1f}")


def _page(folder: Path) -> None:
    runs = []
    for _ in range(5):
        page = folder / "take.html"
        page.unlink(missing_ok=True)
        runs.append(timed(["grade", LESSON, TAKE, "--page", str(page)], 1))
    best, core = min(run.clock_s for run in runs), min(run.own_s for run in runs)
    size = page.stat().st_size / 1e6
    print(f"page: a take of {TAKE_S:g} s to its page on one core in {best:.2f} s (busy {core:.2f} s), {size:.2f} MB")


def _class(folder: Path, takes: int, jobs: int) -> Timed:
    source = _takes(folder, takes)
    out = folder / f"out{jobs}"
    return timed(["grade", LESSON, str(source), "--out", str(out), "--jobs", str(jobs)], jobs)


def _takes(folder: Path, takes: int) -> Path:
    source = folder / f"takes{takes}"
    for number in range(takes):
        path = source / f"student {number}" / "take.ogg"
        if not path.exists():
            path.parent.mkdir(parents=True)
            shutil.copy(TAKE, path)
    return source


def _overview(folder: Path) -> None:
    """200 students with five takes of a lesson each, opened in Chromium."""
    from tests.pages.browser import browser, opened

    (record,) = read_results(folder / "out1" / RESULTS)[:1]
    rng = random.Random(0)
    records = [_like(record, f"Student {number}", week, rng) for number in range(200) for week in range(5)]
    pages = {record.student: f"students/{record.student.replace(' ', '-')}.html" for record in records}
    began_s = time.perf_counter()
    page = folder / "overview.html"
    page.write_text(overview_page("The class", records, pages), encoding="utf-8")
    made_s = time.perf_counter() - began_s
    script = "const [n] = performance.getEntriesByType('navigation'); return n.loadEventEnd - n.startTime"
    with browser() as driver:
        times_ms = []
        for _ in range(5):
            opened(driver, page)
            times_ms.append(float(driver.execute_script(script)))
    print(
        f"overview: 200 students, {len(records)} takes, made in {made_s:.2f} s, {page.stat().st_size / 1e3:.0f} kB, "
        f"open in Chromium after {min(times_ms):.0f} ms (slowest of five {max(times_ms):.0f} ms)"
    )


def _archive(folder: Path) -> None:
    """The results of 10,000 takes of 500 students, none left to be graded: what comes after the last one."""
    line = (folder / "out1" / RESULTS).read_text(encoding="utf-8").splitlines()[0]
    code = ARRANGING.format(line=line, out=str(folder / "archive"), count=ARCHIVE)
    run = subprocess.run([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True, check=True)
    seconds, mebibytes = run.stdout.split()
    print(f"archive: {ARCHIVE} results to table and overview in {float(seconds):.1f} s, {float(mebibytes):.0f} MiB")


def _like(record: TakeRecord, student: str, week: int, rng: random.Random) -> TakeRecord:
    """The same take by somebody else, with other figures clean."""
    figures = [
        {**figure, "clean": True, "mistakes": [], "checkpoints": [{**c, "faults": []} for c in figure["checkpoints"]]}
        if rng.random() < 0.5
        else figure
        for figure in record.figures
    ]
    return TakeRecord(
        key=f"{student} {week}",
        take=f"{student}/{week}.wav",
        student=student,
        taken=date(2026, 9, 1) + timedelta(weeks=week),
        lesson=record.lesson,
        lesson_file=record.lesson_file,
        figures_json=msgspec.Raw(msgspec.json.encode(figures)),
    )


def _cluster(folder: Path, takes: int, workers: int, price: float) -> None:
    """The same command on a scheduler and workers that are processes of their own, as a school would have them."""
    before_s = _busy_s()
    with _Cluster(workers, folder) as address:
        source, out = _takes(folder, takes), folder / f"cluster{workers}"
        timed(["grade", LESSON, str(_takes(folder, 1)), "--out", str(folder / f"warm{workers}"), "--cluster", address])
        run = timed(["grade", LESSON, str(source), "--out", str(out), "--cluster", address])
    graded = sum(not record.error for record in read_results(out / RESULTS))
    busy_s = (_busy_s() - before_s) / (takes + 1)
    hours = ARCHIVE * busy_s / 3600.0
    print(
        f"cluster: {graded} of {takes} takes on {workers} worker(s) in {run.clock_s:.1f} s, "
        f"{60.0 * graded / run.clock_s:.1f} a minute; a take keeps a core busy for {busy_s:.2f} s, all processes and "
        f"their start included; {ARCHIVE} takes: {hours:.1f} core hours, {hours * price:.2f} at {price:g} an hour"
    )


def _busy_s() -> float:
    """How long processes that were started here, and have ended, kept a core busy."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


class _Cluster:
    """`dask scheduler` and workers with one thread each, on this machine."""

    def __init__(self, workers: int, folder: Path) -> None:
        self._workers = workers
        self._file = folder / f"scheduler{workers}.json"
        self._processes: list[subprocess.Popen[bytes]] = []

    def __enter__(self) -> str:
        self._start("scheduler", "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(self._file))
        while not self._file.exists():
            time.sleep(0.1)
        for _ in range(self._workers):
            self._start("worker", "--scheduler-file", str(self._file), "--nthreads", "1", "--no-nanny")
        return str(json.loads(self._file.read_text(encoding="utf-8"))["address"])

    def __exit__(self, *_: object) -> None:
        for process in reversed(self._processes):
            process.terminate()
            process.wait()

    def _start(self, what: str, *arguments: str) -> None:
        call = [sys.executable, "-m", f"distributed.cli.dask_{what}", *arguments, "--no-dashboard"]
        process = subprocess.Popen(call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=ONE_THREAD)
        self._processes.append(process)
