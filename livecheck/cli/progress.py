"""How far a long take is read: one rewritten line on standard error.

Shown only on a terminal, and only once something takes more than a second.
"""

from __future__ import annotations

import sys
import time
from types import TracebackType

from livecheck.cli.output import one_line

PATIENCE_S = 1.0
RENEW_S = 0.1
LONG_S = 60.0
NAME_WIDTH = 40
"""Of a longer name the end is shown, so that the line fits a terminal of 80 columns."""


class Progress:
    """`with Progress(name, total_s) as progress: progress.at(done_s)`."""

    def __init__(self, name: str, total_s: float) -> None:
        self._name = one_line(name)[-NAME_WIDTH:]
        self._total_s = total_s
        self._due_s = time.monotonic() + PATIENCE_S
        self._width = 0
        self._terminal = sys.stderr is not None and sys.stderr.isatty()

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._width:
            sys.stderr.write(f"\r{' ' * self._width}\r")
            sys.stderr.flush()

    def at(self, done_s: float) -> None:
        """So much of the take is read."""
        if self._terminal and time.monotonic() >= self._due_s:
            self._due_s = time.monotonic() + RENEW_S
            self._show(f"{self._name}: {done_s:.0f} s of {self._total_s:.0f} s heard")

    def judging(self) -> None:
        """All is read, the verdict is being made; that takes long where the take is long."""
        if self._terminal and (self._width or self._total_s >= LONG_S):
            self._show(f"{self._name}: heard, judging it now")

    def _show(self, line: str) -> None:
        # First, so that whatever stops the program while it writes still has the line taken away.
        self._width = max(self._width, len(line))
        sys.stderr.write(f"\r{line.ljust(self._width)}")
        sys.stderr.flush()
