"""How fast `livecheck grade` is as a whole process, on one core and on all, and how much memory it takes, on a take of
minutes; how much more on a longer one; and what each block of sound costs while one is played."""

from __future__ import annotations

import compileall
import os
import tempfile
import time
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

import livecheck
from livecheck.cli.live_audio import LEAST_FRAMES
from livecheck.engine import AudioEngine, Brief
from livecheck.sources.library import load_tolerances
from tests.bench.bank import RATE_HZ
from tests.bench.room import in_room
from tests.bench.stopwatch import Timed, timed
from tests.bench.take import make

HOP = 256
RUNS = 3
LENGTHS = 0.5, 1.0, 2.0, 4.0
AUDIO_MIB = 60.0 * RATE_HZ * np.dtype(np.float32).itemsize / 2.0**20
"""A minute of a take's samples."""


@dataclass(frozen=True)
class Speed:
    take_s: float
    graded: Mapping[int, Timed]
    """Cores -> the run that was the middle one of three."""
    help_s: float
    """The fastest of five."""

    def __str__(self) -> str:
        rows = [
            f"grade, {cores} {'core' if cores == 1 else 'cores'}: a take of {self.take_s:.0f} s in {run.clock_s:.1f} s,"
            f" {self.take_s / run.clock_s:.1f} times faster than played; the cores worked {run.own_s:.1f} s on it;"
            f" {run.peak_mib:.0f} MiB at most"
            for cores, run in self.graded.items()
        ]
        return "\n".join([*rows, f"--help: {1000.0 * self.help_s:.0f} ms"])


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


@dataclass(frozen=True)
class Growth:
    """Peak memory of grading takes of some minutes."""

    minutes: tuple[float, ...]
    peaks_mib: tuple[float, ...]

    def __str__(self) -> str:
        known = list(zip(self.minutes, self.peaks_mib, strict=True))
        rows = [f"{minutes:5.1f} min: {peak_mib:5.0f} MiB at most" for minutes, peak_mib in known]
        for row, ((shorter, less), (longer, more)) in enumerate(pairwise(known), 1):
            rows[row] += f", {(more - less) / (longer - shorter):.1f} MiB for each minute more"
        return "\n".join([*rows, f"a minute of samples: {AUDIO_MIB:.1f} MiB"])


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
    _compile()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        take = make(set_name, 0, at_least_s=60.0 * minutes)
        take.write(folder, instrument)
        helps_s = [timed(["--help"], 1).clock_s for _ in range(5)]
        grade = ["grade", str(folder / "lesson.toml"), str(folder / "take.wav"), "--json"]
        graded = {
            cores: sorted((timed(grade, cores) for _ in range(RUNS)), key=lambda run: run.clock_s)[RUNS // 2]
            for cores in dict.fromkeys((1, len(os.sched_getaffinity(0))))
        }
    return Speed(take.length_s, graded, min(helps_s))


def measure_growth(set_name: str, instrument: str, room: str, minutes: float) -> Growth:
    """The same, of one take's first half of so many minutes, all of them, twice and four times as many."""
    lengths = tuple(minutes * times for times in LENGTHS)
    take = make(set_name, 0, at_least_s=60.0 * max(lengths))
    heard = in_room(take.sound(instrument), room, take.seed, take.beat_s)
    peaks_mib = []
    with tempfile.TemporaryDirectory() as name:
        lesson, sound = Path(name) / "lesson.toml", Path(name) / "take.wav"
        lesson.write_text(take.lesson_text, encoding="utf-8")
        for length in lengths:
            part = heard.samples[: round(60.0 * length * heard.rate_hz)]
            soundfile.write(sound, part, heard.rate_hz, subtype="PCM_16")
            peaks_mib.append(timed(["grade", str(lesson), str(sound), "--json"], 1).peak_mib)
    return Growth(lengths, tuple(peaks_mib))


def _compile() -> None:
    """As an installer does: where nothing may be written beside the source every process would compile it anew."""
    compileall.compile_dir(Path(livecheck.__file__).parent, quiet=1)
