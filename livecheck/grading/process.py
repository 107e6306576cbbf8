"""What this process shares with those that it starts: the cores, and a Ctrl-C."""

from __future__ import annotations

import math
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

CONTROL_GROUP = Path("/sys/fs/cgroup")


def cores() -> int:
    """As many as this process may use at a time."""
    try:
        count = len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        count = os.cpu_count() or 1
    return min(count, _quota())


def _quota() -> int:
    """As many as a container lets its processes use in the mean, rounded up: microseconds of all cores in a period, and
    that period (Linux, "Control Group v2", "CPU Interface Files"; version 1, "CFS Bandwidth Control")."""
    for files in (("cpu.max",), ("cpu/cpu.cfs_quota_us", "cpu/cpu.cfs_period_us")):
        with suppress(OSError, ValueError):  # no such file, or "max"; -1 is as much in version 1
            quota_us, period_us = map(int, " ".join((CONTROL_GROUP / name).read_text() for name in files).split())
            if quota_us > 0 and period_us > 0:
                return math.ceil(quota_us / period_us)
    return sys.maxsize


@contextmanager
def no_interrupt() -> Iterator[None]:
    """What is started in here never hears of a Ctrl-C, not even before it could ignore one; it is kept for the
    program itself, which hears of it afterwards."""
    if not hasattr(signal, "pthread_sigmask"):  # Windows
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
