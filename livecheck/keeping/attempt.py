"""One attempt at a figure, as it is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import msgspec


@dataclass(frozen=True)
class Attempt:
    figure: str
    number: int
    """From 1 in its take."""
    began: datetime
    """With its time zone."""
    start_s: float
    """In the take."""
    clean: bool
    provisional: bool
    """Told while playing; the end of the take may say otherwise."""
    gaps: int
    """How often sound was lost during it."""
    verdict: str
    """The figure's part of the report, JSON."""
    take: str = ""
    """The path of the take."""

    def check(self) -> None:
        """`msgspec.MsgspecError` if it is not what livecheck keeps of an attempt."""
        msgspec.convert(vars(self), Attempt)
        msgspec.json.decode(self.verdict, type=_Figure)


class _Checkpoint(msgspec.Struct):
    """What is read again of a checkpoint."""

    step: int
    string: int
    judged: bool
    timing_ms: float | None
    cents: float | None
    faults: list[str]
    cause: str | None
    confidence: float = 1.0


class _Extra(msgspec.Struct):
    fault: str
    string: int | None


class _Figure(msgspec.Struct):
    checkpoints: list[_Checkpoint]
    extras: list[_Extra]
