"""One attempt at a figure, as it is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


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
