"""The stretch of a take that belongs to a figure, and where its moments lie in a picture.

The picture and both sounds of a figure share it: they begin at the same moment and run equally long.
"""

from __future__ import annotations

from dataclasses import dataclass

from livecheck.judging.verdict import FigureVerdict

LEAD_S, TAIL_S = 0.4, 0.6
"""Before the figure's first beat and after its last: what came too soon or rang too long shows."""
LEFT, RIGHT = 92.0, 18.0
"""Pixels of the picture beside the time."""
PIXELS_A_SECOND = 68.0
NARROWEST, WIDEST = 420.0, 2400.0


@dataclass(frozen=True)
class Span:
    start_s: float
    """When beat 1 is."""
    beat_s: float
    beats: float

    @classmethod
    def of(cls, figure: FigureVerdict) -> Span:
        """Of a figure that was found."""
        if figure.start_s is None or figure.tempo is None:
            raise ValueError(f"{figure.figure.name} was not found")
        return cls(figure.start_s, 60.0 / figure.tempo, float(figure.figure.length))

    @property
    def from_s(self) -> float:
        return self.start_s - LEAD_S

    @property
    def until_s(self) -> float:
        return self.time_s(1.0 + self.beats) + TAIL_S

    @property
    def scale(self) -> float:
        """Pixels a second."""
        length_s = self.until_s - self.from_s
        return min(max(PIXELS_A_SECOND * length_s, NARROWEST), WIDEST) / length_s

    @property
    def width(self) -> float:
        """Of the whole picture, in pixels."""
        return LEFT + (self.until_s - self.from_s) * self.scale + RIGHT

    def time_s(self, beat: float) -> float:
        return self.start_s + (beat - 1.0) * self.beat_s

    def x(self, time_s: float) -> float:
        """Where a moment is, in pixels, never outside the picture."""
        inside_s = min(max(time_s, self.from_s), self.until_s)
        return LEFT + (inside_s - self.from_s) * self.scale
