"""How many of many takes are done, and how long the rest will take: one rewritten line on standard error.

Shown only on a terminal.
"""

from __future__ import annotations

import time

from livecheck.cli.rewritten import Rewritten


class Tally(Rewritten):
    """`with Tally() as tally: tally.looking(done, total); tally.at(done, total)`."""

    def __init__(self) -> None:
        super().__init__()
        self._since_s = time.monotonic()

    def looking(self, done: int, total: int) -> None:
        """So many files have been looked at; the time that takes is not that of grading."""
        self._since_s = time.monotonic()
        self._show(f"looking at {total} files: {done}")

    def at(self, done: int, total: int) -> None:
        """So many takes are graded of those that had to be."""
        self._show(told(done, total, time.monotonic() - self._since_s))


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
