"""Work on forks: the same results in the same order, whatever becomes of a fork; a take's report is the same."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence

import numpy as np
import pytest

from livecheck.grading import forks
from livecheck.grading.forks import LEAST_EACH, MOST_TURNS, Forks
from livecheck.grading.take import play
from livecheck.hearing.sound.recording import PIECE, Recording
from livecheck.judging.spread import Result, Thing
from livecheck.keeping.aside import Aside
from tests.pages.example import TAKE, asked

HERE = os.getpid()
FORKS = Forks()
THINGS = list(range(4 * LEAST_EACH + 3))
CORES = 4


@pytest.fixture(autouse=True)
def _four_cores_and_no_threads(monkeypatch: pytest.MonkeyPatch) -> None:
    """Threads that other tests have left sleeping do not count."""
    count, left = threading.active_count, threading.active_count() - 1
    monkeypatch.setattr(forks, "cores", lambda: CORES)
    monkeypatch.setattr(threading, "active_count", lambda: count() - left)


def squared(number: int) -> tuple[int, int]:
    """With the process that it was done by; it takes a while, so that each gets a turn."""
    time.sleep(0.05)
    return number * number, os.getpid()


def _dying(number: int) -> tuple[int, int]:
    if os.getpid() != HERE:
        os.kill(os.getpid(), signal.SIGKILL)
    return squared(number)


def _failing_elsewhere(number: int) -> tuple[int, int]:
    if os.getpid() != HERE:
        raise ValueError(number)
    return squared(number)


def test_results_come_in_order_from_as_many_processes_as_there_are_cores() -> None:
    results = FORKS.each(squared, THINGS)
    assert [square for square, _ in results] == [number * number for number in THINGS]
    assert len({process for _, process in results}) == CORES
    assert results[0][1] == HERE, "the first prepares what the others find"
    assert not multiprocessing.active_children()


@pytest.mark.parametrize("work", [_dying, _failing_elsewhere])
def test_what_a_fork_cannot_do_is_done_here(
    work: Callable[[int], tuple[int, int]], capfd: pytest.CaptureFixture[str]
) -> None:
    assert FORKS.each(work, THINGS) == [(number * number, HERE) for number in THINGS]
    assert capfd.readouterr() == ("", "")


def test_where_no_process_can_be_started_all_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused() -> int:
        raise BlockingIOError

    monkeypatch.setattr(os, "fork", refused)
    assert FORKS.each(squared, THINGS) == [(number * number, HERE) for number in THINGS]


def test_who_is_slow_takes_fewer_turns() -> None:
    def slow_elsewhere(number: int) -> tuple[int, int]:
        if os.getpid() != HERE:
            time.sleep(5.0)
        return squared(number)

    assert sum(process == HERE for _, process in FORKS.each(slow_elsewhere, THINGS)) == len(THINGS) - (CORES - 1)


def test_there_may_be_more_things_than_turns() -> None:
    things = range(3 * MOST_TURNS + 1)
    assert FORKS.each(lambda number: number, things) == list(things)


@pytest.mark.parametrize("beside", [os.getpid, lambda: _failing_elsewhere(2)[1]])
def test_of_two_works_one_is_done_beside_the_other(beside: Callable[[], int]) -> None:
    """And here, if its fork cannot do it."""
    here, there = FORKS.both(os.getpid, beside)
    assert here == HERE
    assert (there == HERE) == (beside is not os.getpid)
    assert not multiprocessing.active_children()


def test_an_error_is_raised_here() -> None:
    def failing(number: int) -> int:
        raise ValueError(number)

    with pytest.raises(ValueError, match="0"):
        FORKS.each(failing, THINGS)
    assert not multiprocessing.active_children()


def test_nothing_is_forked_for_little_nor_beside_a_thread() -> None:
    assert {process for _, process in FORKS.each(squared, THINGS[: 2 * LEAST_EACH - 1])} == {HERE}
    done = threading.Event()
    beside = threading.Thread(target=done.wait)
    beside.start()
    try:
        assert {process for _, process in FORKS.each(squared, THINGS)} == {HERE}
    finally:
        done.set()
        beside.join()


def test_an_interrupt_ends_the_forks_and_is_the_programs_own(capfd: pytest.CaptureFixture[str]) -> None:
    def interrupted(number: int) -> int:
        if os.getpid() != HERE:
            os.kill(os.getpid(), signal.SIGINT)  # as a terminal does to all of them
            time.sleep(60.0)
        elif number:
            time.sleep(0.5)  # a fork that heard of it would say so
            os.kill(HERE, signal.SIGINT)
        return number

    began_s = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        FORKS.each(interrupted, THINGS)
    assert not multiprocessing.active_children()
    assert time.monotonic() - began_s < 30.0
    assert capfd.readouterr() == ("", "")


PROGRAM = """
import os, sys, time
from livecheck.grading import forks
from livecheck.grading.forks import Forks

here = os.getpid()
forks.cores = lambda: 3

def work(number):
    if os.getpid() == here and number:
        time.sleep(60)
    elif number:
        os.write(1, b"at work")
        time.sleep(float(sys.argv[2]))
    return bytes(1 << 20)

Forks().each(work, range(int(sys.argv[1])))
"""


@pytest.mark.parametrize(("things", "each_s"), [(3 * LEAST_EACH, 0.0), (3 * 1000, 0.1)])
def test_forks_end_when_the_program_is_killed(things: int, each_s: float) -> None:
    """Whether they have done their shares and nobody takes the results, or have much left to do."""
    arguments = [sys.executable, "-c", PROGRAM, str(things), str(each_s)]
    program = subprocess.Popen(arguments, stdout=subprocess.PIPE)
    assert program.stdout is not None
    assert program.stdout.read(7) == b"at work"
    program.kill()
    program.communicate(timeout=30)  # what they hold open is closed


def test_each_fork_reads_for_itself_what_lies_aside() -> None:
    recording = Recording(Aside())
    recording.append(np.arange(3 * PIECE, dtype=np.float32))

    def is_right(number: int) -> bool:
        starts = range(PIECE // 2 + 1009 * number, 2 * PIECE, 97)
        return all(recording.slice(start, start + 64)[0] == start for start in starts)

    assert all(FORKS.each(is_right, THINGS))


def test_a_take_is_graded_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(forks, "LEAST_EACH", 1)
    spread = []

    class Watched(Forks):
        def each(self, work: Callable[[Thing], Result], things: Sequence[Thing]) -> list[Result]:
            spread.append(len(things))
            return super().each(work, things)

    alone, together = play(TAKE, "take", asked()), play(TAKE, "take", asked(), spread=Watched())
    assert max(spread) >= CORES
    assert together.verdict == alone.verdict
