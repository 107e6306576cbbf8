"""How fast `livecheck grade` is as a whole process on one core, and how much memory it takes, on a take of minutes; and
what each block of sound costs while one is played."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from livecheck.cli.live_audio import LEAST_FRAMES
from livecheck.engine import AudioEngine, Brief
from livecheck.sources.library import load_tolerances
from tests.bench.bank import RATE_HZ
from tests.bench.take import make

HOP = 256

STOPWATCH = """
import resource, subprocess, sys, time
began_s = time.perf_counter()
subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(time.perf_counter() - began_s, used.ru_utime + used.ru_stime, used.ru_maxrss)
"""
"""Started in between: a new process counts the memory of the one that it is forked from, and this one is small."""


@dataclass(frozen=True)
class Speed:
    take_s: float
    grade_s: float
    own_s: float
    """What of that the core worked on it: the rest it worked for others, or waited."""
    peak_mib: float
    help_s: float
    """The fastest of five."""

    def __str__(self) -> str:
        times, own_times = self.take_s / self.grade_s, self.take_s / self.own_s
        return (
            f"grade: a take of {self.take_s:.0f} s in {self.grade_s:.1f} s on one core, {times:.1f} times faster than"
            f" played ({own_times:.1f} times, by the {self.own_s:.1f} s that the core worked on it),"
            f" {self.peak_mib:.0f} MiB at most; --help: {1000.0 * self.help_s:.0f} ms"
        )


@dataclass(frozen=True)
class Hops:
    """What the engine took for each block, in seconds of one core; shape (blocks,)."""

    hop_s: float
    took_s: NDArray[np.float64]

    def __str__(self) -> str:
        middle, most, longest = 1000.0 * np.percentile(self.took_s, [50, 99, 100])
        share = float(self.took_s.mean()) / self.hop_s
        return (
            f"a hop of {1000.0 * self.hop_s:.1f} ms: {middle:.2f} ms in the middle,"
            f" {most:.2f} ms at the 99th percentile, {longest:.0f} ms at most, where a figure is listened to;"
            f" {share:.0%} of one core"
        )


def measure_hops(set_name: str, instrument: str, minutes: float) -> Hops:
    """Blocks of 256 samples go to the engine as they do while playing, which is asked after each what has ended."""
    take = make(set_name, 0, at_least_s=60.0 * minutes)
    brief = Brief(take.lesson, take.lesson.figures, load_tolerances("standard"), take.timing)
    engine = AudioEngine(brief, RATE_HZ, LEAST_FRAMES)
    samples = take.sound(instrument)
    took_s = []
    for start in range(0, len(samples), HOP):
        began_s = time.thread_time()
        engine.feed(samples[start : start + HOP])
        engine.ended()
        engine.certain()
        took_s.append(time.thread_time() - began_s)
    return Hops(HOP / RATE_HZ, np.array(took_s))


def measure(set_name: str, instrument: str, minutes: float) -> Speed:
    """Whole processes, Python's start included. Linux only: the core is chosen by its scheduler."""
    command = [sys.executable, "-m", "livecheck"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        take = make(set_name, 0, at_least_s=60.0 * minutes)
        take.write(folder, instrument)
        helps_s = [_timed([*command, "--help"])[0] for _ in range(5)]
        files = [str(folder / "lesson.toml"), str(folder / "take.wav")]
        grade_s, own_s, peak_mib = _timed([*command, "grade", *files, "--json"])
    return Speed(take.length_s, grade_s, own_s, peak_mib, min(helps_s))


def _timed(command: list[str]) -> tuple[float, float, float]:
    """Seconds by the clock and of work, and peak memory in MiB, of a process on one core."""
    allowed = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(allowed)})  # a child keeps what its parent has
    try:
        run = subprocess.run([sys.executable, "-c", STOPWATCH, *command], stdout=subprocess.PIPE, text=True, check=True)
    finally:
        os.sched_setaffinity(0, allowed)
    clock_s, own_s, kibibytes = map(float, run.stdout.split())
    return clock_s, own_s, kibibytes / 1024.0
