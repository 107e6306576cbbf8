"""A take with what was heard: the verdict, and the notes and the sound of each figure that it rests on.

For whatever draws, plays or writes down what was played. Seconds from the start of the take.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.heard import HeardNote
from livecheck.judging.verdict import FigureVerdict, TakeVerdict
from livecheck.lesson.figure import Lesson
from livecheck.lesson.tolerances import Tolerances

Samples = Callable[[float, float], NDArray[np.float32]]
"""The sound between two times, mono; silence outside the take."""


@dataclass(frozen=True)
class PlayedFigure:
    verdict: FigureVerdict
    notes: tuple[HeardNote, ...]
    """In order of their starts; none where the figure was not found."""


@dataclass(frozen=True)
class PlayedTake:
    verdict: TakeVerdict
    lesson: Lesson
    tolerances: Tolerances
    figures: tuple[PlayedFigure, ...]
    """As many as the verdict has, in its order."""
    duration_s: float
    samples: Samples | None = None
    """None of a MIDI take."""
    rate_hz: int = 0
    remarks: tuple[str, ...] = ()
    """What the player should know of the file, one sentence each."""
