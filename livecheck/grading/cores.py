"""Jobs on this machine's cores: each in a process of its own that does one after the other.

A process that dies (a decoder that crashes, no memory left) or does not come back takes only the job with it that it
was doing; another one takes its place.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import time
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess

from livecheck.grading.job import Job
from livecheck.grading.process import no_interrupt
from livecheck.grading.work import Result, done, failed

PATIENCE_S = 3600.0
"""A take of three hours is judged in less; what takes longer never ends."""
NAP_S = 1.0
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""Each process has one core: numerical libraries are not to start threads for all of them."""

Task = tuple[Job, str]
"""A job and its key."""


@dataclass
class _Hand:
    process: BaseProcess
    pipe: Connection
    task: Task
    since_s: float


def on_cores(tasks: Sequence[Task], cores: int, patience_s: float = PATIENCE_S) -> Iterator[Result]:
    """The results, in the order in which they come."""
    left = list(reversed(tasks))
    hands: list[_Hand] = []
    with _one_thread_each():
        try:
            while left or hands:
                while left and len(hands) < cores:
                    hands.append(_hired(left.pop()))
                ready = wait([hand.pipe for hand in hands], NAP_S)
                for hand in list(hands):
                    result = _from(hand, hand.pipe in ready, patience_s)
                    if result is None:
                        continue
                    yield result
                    if left and hand.process.is_alive():
                        hand.task, hand.since_s = left.pop(), time.monotonic()
                        _send(hand)
                    else:
                        hands.remove(hand)
                        _let_go(hand)
        finally:
            for hand in hands:
                _let_go(hand)


def _hired(task: Task) -> _Hand:
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(theirs,), daemon=True)
    if sys.platform != "win32":
        resource_tracker.ensure_running()  # it lets interrupts through once it has been started
    with no_interrupt():
        process.start()
    theirs.close()
    hand = _Hand(process, ours, task, time.monotonic())
    _send(hand)
    return hand


def _send(hand: _Hand) -> None:
    try:
        hand.pipe.send(hand.task)
    except OSError:
        hand.process.kill()  # its end is told by the pipe


def _from(hand: _Hand, is_ready: bool, patience_s: float) -> Result | None:
    """What came of a job; None while it is being done."""
    if is_ready:
        try:
            result: Result = hand.pipe.recv()
        except (EOFError, OSError):
            hand.process.join()
            why = f"the process that graded it ended (status {hand.process.exitcode})"
            return failed(*hand.task, why)
        return result
    if time.monotonic() - hand.since_s > patience_s:
        hand.process.kill()
        hand.process.join()
        return failed(*hand.task, f"was not graded within {patience_s / 60.0:g} minutes")
    return None


def _let_go(hand: _Hand) -> None:
    hand.process.kill()
    hand.process.join()
    hand.pipe.close()


def _serve(pipe: Connection) -> None:
    """What a process does: jobs, until it is let go."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if not sys.warnoptions:
        warnings.simplefilter("ignore")
    while True:
        try:
            task = pipe.recv()
        except EOFError:
            return
        pipe.send(done(*task))


@contextmanager
def _one_thread_each() -> Iterator[None]:
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
