"""One string in the picture of a figure: what was asked of it, what was heard, each pitch at its height.

In: the notes asked and heard. Out: SVG. Open signs are what the lesson asks, filled ones what was heard: triangles are
picks, diamonds arrivals. The broad band around what is asked is as high as the tolerance.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.judging.verdict import CheckpointVerdict
from livecheck.lesson.expectation import Note
from livecheck.lesson.pitch import name_of
from livecheck.pages.markup import Markup, element, joined, number
from livecheck.pages.span import LEFT, RIGHT, Span

LEAST_HEIGHT, MOST_HEIGHT = 64.0, 150.0
PIXELS_A_SEMITONE = 22.0
ROOM = 1.0
"""Semitones above and below all that is asked."""
FARTHEST = 7.0
"""Semitones from what is asked, beyond which what was heard lies at the edge."""
LEAST_STEP = 1.8
"""Pixels between two points of a curve."""
BRIDGED_S = 0.08
"""A curve that is not heard for so long is drawn through."""
LABEL_HEIGHT = 12.0


@dataclass(frozen=True)
class Strip:
    string: int | None
    """None: what no string can be named for."""
    top: float
    height: float
    lowest: float
    highest: float
    """MIDI numbers at the lower and the upper edge."""

    @classmethod
    def around(cls, string: int | None, top: float, asked: Sequence[float], heard: Sequence[float]) -> Strip:
        """A strip that holds the pitches asked, and those heard as far as they are not too far away."""
        base = list(asked) or list(heard) or [60.0]
        low, high = min(base) - FARTHEST, max(base) + FARTHEST
        held = [*base, *(min(max(midi, low), high) for midi in heard)]
        lowest, highest = min(held) - ROOM, max(held) + ROOM
        height = min(max((highest - lowest) * PIXELS_A_SEMITONE, LEAST_HEIGHT), MOST_HEIGHT)
        return cls(string, top, height, lowest, highest)

    @property
    def bottom(self) -> float:
        return self.top + self.height

    def y(self, midi: float) -> float:
        inside = min(max(midi, self.lowest), self.highest)
        return self.bottom - (inside - self.lowest) / (self.highest - self.lowest) * self.height

    def frame(self, span: Span, pitches: Sequence[float], off: float) -> Markup:
        """The strip's ground, its name, the names of the pitches asked, which sound `off` semitones away from them."""
        right = span.width - RIGHT
        name = "other" if self.string is None else f"string {self.string}"
        parts = [
            element("rect", class_="ground", x=LEFT, y=self.top, width=right - LEFT, height=self.height),
            element("text", name, class_="name", x=6, y=self.top + 14),
        ]
        last = self.top - LABEL_HEIGHT
        for midi in sorted(set(pitches), reverse=True):
            y = self.y(midi + off)
            parts.append(element("line", class_="level", x1=LEFT, x2=right, y1=y, y2=y))
            if y - last >= LABEL_HEIGHT:
                parts.append(element("text", name_of(midi), class_="pitch", x=LEFT - 6, y=y + 4, text_anchor="end"))
                last = y
        return joined(parts)

    def asked(self, notes: Sequence[Note], span: Span, off: float, tolerance: float) -> Markup:
        """What is asked, with a band of so many semitones to either side."""
        band = max(2.0 * tolerance / (self.highest - self.lowest) * self.height, 5.0)
        ways = [
            "M" + "L".join(_point(span.x(span.time_s(beat)), self.y(midi + off)) for beat, midi in _within(note))
            for note in notes
        ]
        return joined(
            [element("path", class_="band", d=way, stroke_width=band) for way in ways]
            + [element("path", class_="asked", d=way) for way in ways]
        )

    def heard(self, notes: Sequence[HeardNote], span: Span) -> Markup:
        return joined(element("path", class_="heard", d=way) for note in notes if (way := self._way(note, span)))

    def signs(self, checkpoints: Sequence[CheckpointVerdict], span: Span, off: float) -> Markup:
        """Picks and arrivals, asked and heard."""
        parts: list[Markup] = []
        for c in checkpoints:
            y = self.y(c.expected_midi + off)
            heard_y = y if c.heard_midi is None else self.y(c.heard_midi)
            shape, heard_at = (_triangle, self.bottom - 9.0) if c.kind == "pick" else (_diamond, heard_y)
            asked_at = self.bottom - 9.0 if c.kind == "pick" else y
            parts.append(element("path", class_="sign-asked", d=shape(span.x(c.expected_s), asked_at)))
            if c.heard_s is not None:
                x = span.x(c.heard_s)
                parts.append(element("path", class_="sign-heard", d=shape(x, heard_at)))
                if "wrong-note" in c.faults and c.heard_midi is not None:
                    name = name_of(c.heard_midi - off)
                    parts.append(element("text", name, class_="wrong-name", x=x + 14, y=heard_y - 7))
        return joined(parts)

    def _way(self, note: HeardNote, span: Span) -> str:
        points = [
            (span.x(time_s), self.y(midi), time_s)
            for time_s, midi in zip(note.times_s.tolist(), note.midis.tolist(), strict=True)
            if np.isfinite(midi) and span.from_s <= time_s <= min(note.heard_until_s, span.until_s)
        ]
        sparse = not np.isnan(note.midis).any()
        ways, last = "", None
        for at, (x, y, time_s) in enumerate(points):
            is_end = at + 1 == len(points)
            if last is None or (time_s - last[1] > BRIDGED_S and not sparse):
                ways += "M" + _point(x, y)
            elif x - last[0] >= LEAST_STEP or is_end:
                ways += "L" + _point(x, y)
            else:
                continue
            last = (x, time_s)
        if sparse and points and points[-1][2] < note.heard_until_s:
            ways += "L" + _point(span.x(note.heard_until_s), points[-1][1])
        return ways


def _within(note: Note) -> Iterator[tuple[float, float]]:
    """A note's knots from its start to its end."""
    beats = sorted({note.start_beat, note.end_beat, *(b for b, _ in note.knots if note.start_beat < b < note.end_beat)})
    return zip(beats, note.midi_at(np.array(beats)).tolist(), strict=True)


def _point(x: float, y: float) -> str:
    return f"{number(round(x, 1))} {number(round(y, 1))}"


def _triangle(x: float, y: float) -> str:
    return f"M{_point(x - 5, y + 6)}L{_point(x + 5, y + 6)}L{_point(x, y - 4)}Z"


def _diamond(x: float, y: float) -> str:
    return f"M{_point(x - 6, y)}L{_point(x, y - 6)}L{_point(x + 6, y)}L{_point(x, y + 6)}Z"
