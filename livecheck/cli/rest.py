"""When whoever plays should rest: every 25 minutes, which is common practice, no source."""

from __future__ import annotations

import time

REST_AFTER_S = 25 * 60.0
REST = "You have been playing for a while: a rest does hands and ears good."


class Rest:
    """Counts from when it was made."""

    def __init__(self) -> None:
        self._since_s = time.monotonic()

    def is_due(self) -> bool:
        """Whether it is time for one; once each time."""
        now_s = time.monotonic()
        if now_s - self._since_s < REST_AFTER_S:
            return False
        self._since_s = now_s
        return True
