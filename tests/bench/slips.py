"""Slips that are planted in a performance, each a thing that hands, feet or knees do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "unstruck", "other-string", "bar-fret", "bar-unmoved", "foot-unmoved", "late-picks", "late-bar", "late-foot",
    "bar-cents", "foot-cents", "damped", "undamped", "struck-again", "stray",
]  # fmt: skip


@dataclass(frozen=True)
class Slip:
    kind: Kind
    step: int
    """Number of the step, from 1."""
    strings: tuple[int, ...] = ()
    amount: float = 0.0
    """Frets for bar-fret; cents for bar-cents and foot-cents; seconds, negative when early, for the late ones; a share
    of the written time for damped; seconds rung on for undamped; seconds after the step for struck-again and stray."""
    pedal: str = ""
    other: int = 0
    """The string struck instead."""
