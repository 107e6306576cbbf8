"""What this process shares with those that it starts: the cores, and a Ctrl-C."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager


def cores() -> int:
    """As many as this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        return os.cpu_count() or 1


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
