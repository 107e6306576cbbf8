"""What `livecheck` takes as a whole process, Python's start included. Linux only: its scheduler chooses the cores."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass

STOPWATCH = """
import resource, subprocess, sys, time
began_s = time.perf_counter()
subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(time.perf_counter() - began_s, used.ru_utime + used.ru_stime, used.ru_maxrss)
"""
"""Started in between: a new process counts the memory of the one that it is forked from, and this one is small."""


@dataclass(frozen=True)
class Timed:
    clock_s: float
    own_s: float
    """What the cores worked on it: the rest they worked for others, or waited."""
    peak_mib: float


def timed(arguments: Sequence[str], cores: int | None = None) -> Timed:
    """`livecheck` with some arguments, on so many cores only; on all that there are if none is given."""
    allowed = os.sched_getaffinity(0)
    os.sched_setaffinity(0, sorted(allowed)[:cores])  # a child keeps what its parent has
    try:
        call = [sys.executable, "-c", STOPWATCH, sys.executable, "-m", "livecheck", *arguments]
        run = subprocess.run(call, stdout=subprocess.PIPE, text=True, check=True)
    finally:
        os.sched_setaffinity(0, allowed)
    clock_s, own_s, kibibytes = map(float, run.stdout.split())
    return Timed(clock_s, own_s, kibibytes / 1024.0)
