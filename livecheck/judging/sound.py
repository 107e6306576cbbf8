"""What a take sounds like, from whatever source: all that judging asks of hearing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, Protocol

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.listening import Glimpse
from livecheck.hearing.score import TimedScore
from livecheck.hearing.sound.ear import Glance


class Sound(Protocol):
    """A whole take. Times are seconds from its start."""

    source: Literal["audio", "midi"]
    echoes: bool
    """Whether it came through a delay unit, whose repeats have been taken off."""
    blur_s: float
    """Standard deviation of the window that pitch curves were heard through."""

    def glances(self, from_s: float, until_s: float) -> Iterator[Glance]:
        """The coarse observations between two times once more, the first at or before `from_s`."""

    def glimpse(self, score: TimedScore, from_s: float, until_s: float) -> list[Glimpse] | None:
        """The picks of an attempt at first sight; None if a source is exact enough without."""

    def hear(self, score: TimedScore, from_s: float, until_s: float) -> list[HeardNote]:
        """All notes heard around an attempt, between two times (where the attempts before and after it begin)."""
