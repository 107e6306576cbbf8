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


class Progress:
    """`with Progress(name, total_s) as progress: progress.at(done_s)`."""

    def __init__(self, name: str, total_s: float) -> None:
        self._name = one_line(name)
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
            self._show(f"{self._name}: {done_s:.0f} s of {self._total_s:.0f} s heard")

    def judging(self) -> None:
        """All is read, the verdict is being made."""
        if self._terminal and time.monotonic() >= self._due_s:
            self._show(f"{self._name}: heard, judging it now")

    def _show(self, line: str) -> None:
        self._due_s = time.monotonic() + RENEW_S
        self._write(line)

    def _write(self, line: str) -> None:
        sys.stderr.write(f"\r{line.ljust(self._width)}")
        sys.stderr.flush()
        self._width = len(line)
