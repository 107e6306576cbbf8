"""Parts of one take's grading on this machine's cores: the process forks, and all of them take turns.

A fork has for nothing what was worked out before; of what it works out itself only its results are kept. One that dies
(no memory left) or meets an error loses nothing: what it took is done where it would have been done without it.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
import threading
from array import array
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from itertools import takewhile
from multiprocessing.connection import Connection

from livecheck.grading.process import cores, no_interrupt
from livecheck.judging.spread import ONE_BY_ONE, Other, Result, Thing

LEAST_EACH = 4
"""To fork for fewer things costs more than it saves."""
MOST_TURNS = 1000
"""A pipe holds so many numbers wherever it is."""


class Forks:
    """`Spread` over the cores that this process may use; one thing after the other where a fork would cost more than it
    saves, or is not safe (elsewhere than on Linux, and beside threads, whose locks it would find as they were)."""

    def each(self, work: Callable[[Thing], Result], things: Sequence[Thing]) -> list[Result]:
        hands = min(_hands(), len(things) // LEAST_EACH)
        if hands < 2:
            return ONE_BY_ONE.each(work, things)
        first = work(things[0])
        with closing(_Turns(1, len(things))) as turns, _forked(work, things, turns, hands - 1) as pipes:
            done = {at: work(things[at]) for at in turns}
            for pipe in pipes:
                done |= _from(pipe)
        return [first, *(done[at] if at in done else work(things[at]) for at in range(1, len(things)))]

    def both(self, work: Callable[[], Result], beside: Callable[[], Other]) -> tuple[Result, Other]:
        if _hands() < 2:
            return ONE_BY_ONE.both(work, beside)
        with closing(_Turns(0, 1)) as turns, _forked(_call, [beside], turns, 1) as (pipe,):
            done = work()
            others: dict[int, Other] = _from(pipe)
        return done, others[0] if others else beside()


class _Turns:
    """Numbers, each of which is taken by one of several processes: the next one that is free, as no core is always as
    fast as another."""

    def __init__(self, first: int, stop: int) -> None:
        self._each = 1 + (stop - first) // MOST_TURNS
        self._stop = stop
        self._numbers, numbers = os.pipe()
        os.write(numbers, array("I", range(first, stop, self._each)).tobytes())
        os.close(numbers)

    def __iter__(self) -> Iterator[int]:
        while number := os.read(self._numbers, array("I").itemsize):
            first = int.from_bytes(number, sys.byteorder)
            yield from range(first, min(first + self._each, self._stop))

    def close(self) -> None:
        os.close(self._numbers)


def _hands() -> int:
    """How many processes there may be."""
    return cores() if sys.platform == "linux" and threading.active_count() == 1 else 1


def _call(work: Callable[[], Result]) -> Result:
    return work()


def _from(pipe: Connection) -> dict[int, Result]:
    """What a fork made of the turns that it took; nothing if it ended without a result."""
    try:
        results: dict[int, Result] = pipe.recv()
    except (EOFError, OSError):
        return {}
    return results


@contextmanager
def _forked(
    work: Callable[[Thing], Result], things: Sequence[Thing], turns: _Turns, count: int
) -> Iterator[list[Connection]]:
    """So many forks that take turns; what comes of them is read from their pipes. None outlives this."""
    context = multiprocessing.get_context("fork")
    pipes, forks = [], []
    try:
        for _ in range(count):
            ours, theirs = context.Pipe(duplex=False)
            pipes.append(ours)
            arguments = os.getpid(), theirs, tuple(pipes), work, things, turns
            fork = context.Process(target=_serve, args=arguments, daemon=True)
            with suppress(OSError), no_interrupt():  # OSError: no more processes may be started
                fork.start()
                forks.append(fork)
            theirs.close()
        yield pipes
    finally:
        for fork in forks:
            fork.kill()
            fork.join()
        for pipe in pipes:
            pipe.close()


def _serve(
    program: int,
    pipe: Connection,
    others: Sequence[Connection],
    work: Callable[[Thing], Result],
    things: Sequence[Thing],
    turns: _Turns,
) -> None:
    """What a fork does, as long as the program that it works for is there: one that was killed stops nobody. It lets go
    of the ends that are of no use to it, or it would wait for a reader that has died."""
    for other in others:
        other.close()
    with suppress(Exception):
        pipe.send({at: work(things[at]) for at in takewhile(lambda _: os.getppid() == program, turns)})
