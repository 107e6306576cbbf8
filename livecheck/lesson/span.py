"""How long an attempt at some figures takes, and so when it is over.

Times are seconds from the first sound of the attempt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import expect
from livecheck.lesson.figure import Figure

ALMOST = 0.9
"""A player may be faster than asked by so much."""
DONE_QUIET_S = 0.8
"""After the last note is due, so much silence is the end."""
BROKEN_BEATS, BROKEN_S = 5.0, 2.5
"""So much silence is the end wherever it comes, on top of what the figures ask for: the player has broken off."""
KNOCK_S, KNOCK_QUIET_S = 0.3, 1.0
"""A sound so short, and then such silence, where a string should ring: damped strings, struck to start over."""
SLOWER = 1.35
MARGIN_S = 2.0
"""For each figure: for the pause before it, and for the last strings to ring."""


@dataclass(frozen=True)
class Span:
    sounding_s: float
    """Until the last note's end."""
    broken_s: float
    longest_s: float
    first_s: float = 0.0
    """How long the first string rings at least."""

    @classmethod
    def of(cls, figures: Sequence[Figure], copedent: Copedent, tempo: float) -> Span:
        """Of figures in a row at a tempo in beats a minute."""
        beat_s = 60.0 / tempo
        notes = [expect(figure, copedent).notes for figure in figures]
        before = sum(float(figure.length) for figure in figures[:-1])
        sounding = before + max(note.end_beat for note in notes[-1]) - 1.0
        rest = max(_longest_rest(figure, [n.start_beat for n in of]) for figure, of in zip(figures, notes, strict=True))
        whole = before + float(figures[-1].length)
        return cls(
            sounding * beat_s,
            (rest + BROKEN_BEATS) * beat_s + BROKEN_S,
            whole * beat_s * SLOWER + MARGIN_S * len(figures),
            (notes[0][0].end_beat - notes[0][0].start_beat) * beat_s,
        )

    def with_pauses(self, pauses_s: Sequence[float]) -> Span:
        """The same with pauses between the figures, as a backing may have them."""
        if not pauses_s:
            return self
        return replace(
            self,
            sounding_s=self.sounding_s + sum(pauses_s),
            broken_s=self.broken_s + max(pauses_s),
            longest_s=self.longest_s + sum(pauses_s),
        )

    def is_over(self, time_s: float, quiet_s: float) -> bool:
        """Whether the attempt is over, so long after its first sound, after so much silence."""
        if time_s >= self.longest_s or quiet_s >= self.broken_s:
            return True
        return time_s - quiet_s >= ALMOST * self.sounding_s - DONE_QUIET_S and quiet_s >= DONE_QUIET_S

    def is_knock(self, time_s: float, quiet_s: float) -> bool:
        """Whether what was played so far is no playing, but a knock that asks to start over."""
        is_short = time_s - quiet_s <= KNOCK_S and quiet_s >= KNOCK_QUIET_S
        return is_short and self.first_s >= KNOCK_S + KNOCK_QUIET_S


def _longest_rest(figure: Figure, starts: Sequence[float]) -> float:
    """Beats between one pick and the next, or the end: it may all be silent."""
    marks = sorted({*starts, 1.0 + float(figure.length)})
    return max(after - before for before, after in pairwise(marks))
