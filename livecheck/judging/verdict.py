"""The verdict on a take as values; `livecheck.reports` turns them into JSON, text or pages.

Conventions: seconds from the start of the take; pitch as MIDI numbers with decimals; cents and milliseconds signed
(positive is sharp, late); None where there is nothing to say.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from livecheck.lesson.expectation import Kind, Move
from livecheck.lesson.figure import Figure

Fault = Literal["missed", "wrong-note", "missed-move", "early", "late", "flat", "sharp", "cut-short", "rang-on"]
Extra = Literal["extra-pick", "extra-note"]

ASTRAY: frozenset[Fault] = frozenset({"missed", "wrong-note", "missed-move"})
"""What leaves a string elsewhere than asked, or silent."""

SURE = 0.5
"""A verdict less likely than that accuses nobody."""


@dataclass(frozen=True)
class CheckpointVerdict:
    step: int
    string: int
    kind: Kind
    move: Move | None
    beat: float
    judged: bool
    expected_s: float
    heard_s: float | None
    timing_ms: float | None
    expected_midi: float
    heard_midi: float | None
    cents: float | None
    faults: tuple[Fault, ...]
    cause: str | None = None
    confidence: float = 1.0
    """How likely the verdict is right, 0 to 1."""

    @property
    def right(self) -> bool:
        """Whether it was heard at the pitch asked for; of a move, its end alone may have been."""
        is_heard = self.heard_s is not None or self.heard_midi is not None
        return is_heard and not ASTRAY & set(self.faults)

    @property
    def sure(self) -> bool:
        """Whether a fault may be held against the player."""
        return self.confidence >= SURE


@dataclass(frozen=True)
class ExtraVerdict:
    fault: Extra
    at_s: float
    string: int | None
    midi: float
    step: int | None = None
    """The step during which it sounded."""


@dataclass(frozen=True)
class FigureVerdict:
    figure: Figure
    attempt: int
    found: bool
    start_s: float | None
    tempo: float | None
    checkpoints: tuple[CheckpointVerdict, ...]
    extras: tuple[ExtraVerdict, ...]
    broken_off: int | None = None
    """The step after which the player stopped, to begin the figure anew."""

    @property
    def unsure(self) -> list[CheckpointVerdict]:
        """Where a fault may be there, or not."""
        return [checkpoint for checkpoint in self.checkpoints if checkpoint.faults and not checkpoint.sure]

    @property
    def passed(self) -> bool:
        """Whether nothing that is sure was wrong."""
        faulty = bool(self.extras) or any(checkpoint.faults and checkpoint.sure for checkpoint in self.checkpoints)
        return self.found and not faulty and self.broken_off is None

    @property
    def clean(self) -> bool:
        return self.passed and not self.unsure


@dataclass(frozen=True)
class TakeVerdict:
    lesson: str
    """The lesson's title."""
    take: str
    """The take as the caller named it."""
    source: Literal["audio", "midi"]
    tuning_cents: float
    tempo: float | None
    figures: tuple[FigureVerdict, ...]

    @property
    def clean(self) -> bool:
        return all(figure.clean for figure in self.figures)

    @property
    def passed(self) -> bool:
        """Whether nothing that is sure was wrong in any figure."""
        return all(figure.passed for figure in self.figures)
