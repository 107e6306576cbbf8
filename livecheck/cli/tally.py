"""How many of many takes are done, and how long the rest will take: one rewritten line on standard error.

Shown only on a terminal.
"""

from __future__ import annotations

import sys
import time
from types import TracebackType


class Tally:
    """`with Tally() as tally: tally.looking(done, total); tally.at(done, total)`."""

    def __init__(self) -> None:
        self._since_s = time.monotonic()
        self._width = 0
        self._terminal = sys.stderr is not None and sys.stderr.isatty()

    def __enter__(self) -> Tally:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._width:
            sys.stderr.write(f"\r{' ' * self._width}\r")
            sys.stderr.flush()

    def looking(self, done: int, total: int) -> None:
        """So many files have been looked at; the time that takes is not that of grading."""
        self._since_s = time.monotonic()
        self._show(f"looking at {total} files: {done}")

    def at(self, done: int, total: int) -> None:
        """So many takes are graded of those that had to be."""
        self._show(told(done, total, time.monotonic() - self._since_s))

    def _show(self, line: str) -> None:
        if not self._terminal:
            return
        self._width = max(self._width, len(line))
        sys.stderr.write(f"\r{line.ljust(self._width)}")
        sys.stderr.flush()


def told(done: int, total: int, gone_s: float) -> str:
    """12 of 40 takes, about 3 min left."""
    if not done or done == total:
        return f"{done} of {total} takes"
    left_s = gone_s / done * (total - done)
    if left_s < 100.0:
        left = f"{left_s:.0f} s"
    else:
        left = f"{left_s / 60.0:.0f} min" if left_s < 6000.0 else f"{left_s / 3600.0:.1f} hours"
    return f"{done} of {total} takes, about {left} left"
