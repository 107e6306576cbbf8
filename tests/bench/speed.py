"""How fast `livecheck grade` is as a whole process on one core, and how much memory it takes, on a take of minutes."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from tests.bench.take import make


@dataclass(frozen=True)
class Speed:
    take_s: float
    grade_s: float
    peak_mib: float
    help_s: float
    """The fastest of five."""

    def __str__(self) -> str:
        times = self.take_s / self.grade_s
        return (
            f"grade: a take of {self.take_s:.0f} s in {self.grade_s:.1f} s on one core, {times:.1f} times faster than"
            f" played, {self.peak_mib:.0f} MiB at most; --help: {1000.0 * self.help_s:.0f} ms"
        )


def measure(set_name: str, instrument: str, minutes: float) -> Speed:
    """Whole processes, Python's start included. Linux only: the core is chosen by its scheduler."""
    command = [sys.executable, "-m", "livecheck"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        take = make(set_name, 0, at_least_s=60.0 * minutes)
        take.write(folder, instrument)
        helps_s = [_timed([*command, "--help"])[0] for _ in range(5)]
        files = [str(folder / "lesson.toml"), str(folder / "take.wav")]
        grade_s, peak_mib = _timed([*command, "grade", *files, "--json"])
    return Speed(take.length_s, grade_s, peak_mib, min(helps_s))


def _timed(command: list[str]) -> tuple[float, float]:
    """Seconds and peak memory in MiB of a process on one core."""
    began_s = time.perf_counter()
    allowed = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(allowed)})  # a child keeps what its parent has
    try:
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        _, _, usage = os.wait4(process.pid, 0)
    finally:
        os.sched_setaffinity(0, allowed)
    return time.perf_counter() - began_s, usage.ru_maxrss / 1024.0
