"""Parts of one take's grading on this machine's cores: the process forks, and each fork does its share.

A fork has for nothing what was worked out before; of what it works out itself only its results are kept. One that dies
(no memory left) or meets an error loses nothing: its share is done where it would have been done without it.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from itertools import takewhile
from multiprocessing.connection import Connection

from livecheck.grading.process import cores, no_interrupt
from livecheck.judging.spread import Result, Thing, one_by_one

LEAST_EACH = 4
"""To fork for fewer things costs more than it saves."""


def on_forks(work: Callable[[Thing], Result], things: Sequence[Thing]) -> list[Result]:
    """`Spread` over the cores that this process may use; one thing after the other where a fork would cost more than it
    saves, or is not safe (elsewhere than on Linux, and beside threads, whose locks it would find as they were)."""
    hands = min(cores(), len(things) // LEAST_EACH)
    if hands < 2 or sys.platform != "linux" or threading.active_count() > 1:
        return one_by_one(work, things)
    first = work(things[0])
    shares = [things[1 + hand :: hands] for hand in range(hands)]
    with _forked(work, shares[1:]) as pipes:
        done = [one_by_one(work, shares[0])]
        for pipe, share in zip(pipes, shares[1:], strict=True):
            done.append(_from(pipe) or one_by_one(work, share))
    return [first, *(done[at % hands][at // hands] for at in range(len(things) - 1))]


def _from(pipe: Connection) -> list[Result] | None:
    """What came of a share; None if its fork ended without a result."""
    try:
        results: list[Result] = pipe.recv()
    except (EOFError, OSError):
        return None
    return results


@contextmanager
def _forked(work: Callable[[Thing], Result], shares: Sequence[Sequence[Thing]]) -> Iterator[list[Connection]]:
    """A fork at work on each share; what comes of it is read from its pipe. None outlives this."""
    context = multiprocessing.get_context("fork")
    pipes, forks = [], []
    try:
        for share in shares:
            ours, theirs = context.Pipe(duplex=False)
            pipes.append(ours)
            fork = context.Process(target=_serve, args=(os.getpid(), theirs, tuple(pipes), work, share), daemon=True)
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
    theirs: Sequence[Connection],
    work: Callable[[Thing], Result],
    share: Sequence[Thing],
) -> None:
    """What a fork does, as long as the program that it works for is there: one that was killed stops nobody. It lets go
    of the ends that are not its own, or it would wait for a reader that has died."""
    for other in theirs:
        other.close()
    with suppress(Exception):
        pipe.send([work(thing) for thing in takewhile(lambda _: os.getppid() == program, share)])
