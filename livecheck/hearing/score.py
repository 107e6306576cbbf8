"""A figure's expectation laid on the clock of a take: what to listen for, and when."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from livecheck.lesson.expectation import Checkpoint, Expectation

WIDEST_BEATS = 1.0
"""A checkpoint is searched up to half the gap to its string's neighbours, and no further than this."""
ASTRAY_BEATS = 1.0
"""No move is looked for so far from its beat: a way that goes there has lost the player."""


@dataclass(frozen=True)
class Window:
    """Where a checkpoint is searched, in seconds of the take."""

    start_s: float
    expected_s: float
    stop_s: float

    def holds(self, time_s: float) -> bool:
        return self.start_s <= time_s <= self.stop_s


@dataclass(frozen=True)
class TimedScore:
    """An expectation with a straight line from beats to seconds, and the pitch offset of the take."""

    expectation: Expectation
    start_s: float
    """When beat 1 is."""
    beat_s: float
    tuning_cents: float = 0.0
    path: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None
    """Seconds and beats of the player's own way through the figure, where it was followed."""

    def beats_at(self, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """The beat that the player had reached at some times: late where the player was late."""
        straight = self.written_at(times_s)
        if self.path is None:
            return straight
        times, beats = self.path
        followed = np.interp(times_s, times, beats, left=np.nan, right=np.nan)
        return np.where(np.abs(followed - straight) < ASTRAY_BEATS, followed, straight)

    def written_at(self, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """The beat that is due at some times."""
        return (times_s - self.start_s) / self.beat_s + 1.0

    def time_s(self, beat: float) -> float:
        return self.start_s + (beat - 1.0) * self.beat_s

    def sounding(self, checkpoint: Checkpoint) -> float:
        """The pitch of a checkpoint as this take sounds."""
        return checkpoint.midi + self.tuning_cents / 100.0

    @cached_property
    def windows(self) -> dict[tuple[int, int], Window]:
        """(step, string) -> where that checkpoint is searched."""
        found: dict[tuple[int, int], Window] = {}
        for string in {c.string for c in self.expectation.checkpoints}:
            row = [c for c in self.expectation.checkpoints if c.string == string]
            for at, checkpoint in enumerate(row):
                before = (checkpoint.beat - row[at - 1].beat) / 2 if at else WIDEST_BEATS
                after = (row[at + 1].beat - checkpoint.beat) / 2 if at + 1 < len(row) else WIDEST_BEATS
                expected = self.time_s(checkpoint.beat)
                found[checkpoint.step, string] = Window(
                    expected - min(before, WIDEST_BEATS) * self.beat_s,
                    expected,
                    expected + min(after, WIDEST_BEATS) * self.beat_s,
                )
        return found

    def window(self, checkpoint: Checkpoint) -> Window:
        return self.windows[checkpoint.step, checkpoint.string]
