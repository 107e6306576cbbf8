"""What is asked of a take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from livecheck.lesson.figure import Figure, Lesson
from livecheck.lesson.tolerances import Tolerances


@dataclass(frozen=True)
class Brief:
    lesson: Lesson
    figures: tuple[Figure, ...]
    """Those to be graded, in the lesson's order."""
    tolerances: Tolerances
    timing: Literal["free", "click"] = "free"
    start_s: float | None = None
    """When the click's grid has a beat, if that is known."""
    begins_s: tuple[float, ...] = ()
    """When figures begin that are played with a backing, if that is known: the grid of each is the nearest one's."""
