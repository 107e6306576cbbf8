"""How far a long take is read: one rewritten line on standard error.

Shown only on a terminal, and only once something takes more than a second.
"""

from __future__ import annotations

import time

from livecheck.cli.output import one_line
from livecheck.cli.rewritten import Rewritten

PATIENCE_S = 1.0
RENEW_S = 0.1
LONG_S = 60.0
NAME_WIDTH = 40
"""Of a longer name the end is shown, so that the line fits a terminal of 80 columns."""


class Progress(Rewritten):
    """`with Progress(name, total_s) as progress: progress.at(done_s)`."""

    def __init__(self, name: str, total_s: float) -> None:
        super().__init__()
        self._name = one_line(name)[-NAME_WIDTH:]
        self._total_s = total_s
        self._due_s = time.monotonic() + PATIENCE_S

    def at(self, done_s: float) -> None:
        """So much of the take is read."""
        if self._terminal and time.monotonic() >= self._due_s:
            self._due_s = time.monotonic() + RENEW_S
            self._show(f"{self._name}: {done_s:.0f} s of {self._total_s:.0f} s heard")

    def judging(self) -> None:
        """All is read, the verdict is being made; that takes long where the take is long."""
        if self._terminal and (self._width or self._total_s >= LONG_S):
            self._show(f"{self._name}: heard, judging it now")
