"""One line on standard error that is written over and over, and taken away in the end. Shown only on a terminal."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import Self


class Rewritten:
    """A context manager; `_show` writes the line."""

    def __init__(self) -> None:
        self._width = 0
        self._terminal = sys.stderr is not None and sys.stderr.isatty()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._width:
            sys.stderr.write(f"\r{' ' * self._width}\r")
            sys.stderr.flush()

    def _show(self, line: str) -> None:
        if not self._terminal:
            return
        # First, so that whatever stops the program while it writes still has the line taken away.
        self._width = max(self._width, len(line))
        sys.stderr.write(f"\r{line.ljust(self._width)}")
        sys.stderr.flush()
