"""How long it was that sounded last in an attempt, from silence to silence. Times are seconds from its first sound."""

from __future__ import annotations

APART_S = 0.25
"""A shorter silence parts nothing."""


class LastSound:
    """Told again and again what time it is and for how long it has been silent."""

    def __init__(self) -> None:
        self._began_s = 0.0
        self._quiet_s = 0.0

    def lasted_s(self, time_s: float, quiet_s: float) -> float:
        if quiet_s < self._quiet_s and self._quiet_s >= APART_S:
            self._began_s = time_s - quiet_s
        self._quiet_s = quiet_s
        return time_s - quiet_s - self._began_s
