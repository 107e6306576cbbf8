"""How long an attempt at some figures takes, and so when it is over.

Times are seconds from the first sound of the attempt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import Note, expect
from livecheck.lesson.figure import Figure

ALMOST = 0.9
"""A player may be faster than asked by so much."""
DONE_QUIET_S = 0.8
"""After the last note is due, so much silence is the end."""
BROKEN_BEATS, BROKEN_S = 5.0, 2.5
"""So much silence is the end wherever it comes, on top of what the figures ask for: the player has broken off."""
KNOCK_S, KNOCK_QUIET_S = 0.3, 1.0
"""A sound so short, and then such silence, longer than any that is written: damped strings, struck to start over."""
SLOWER = 1.35
MARGIN_S = 2.0
"""For each figure: for the pause before it, and for the last strings to ring."""


@dataclass(frozen=True)
class Span:
    sounding_s: float
    """Until the last note's end."""
    broken_s: float
    longest_s: float
    rest_s: float = 0.0
    """The longest time between the first note and the last in which nothing is to sound."""

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
            _longest_silence(figures, notes) * beat_s,
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
            rest_s=self.rest_s + max(pauses_s),
        )

    def is_over(self, time_s: float, quiet_s: float) -> bool:
        """Whether the attempt is over, so long after its first sound, after so much silence."""
        if time_s >= self.longest_s or quiet_s >= self.broken_s:
            return True
        return time_s - quiet_s >= ALMOST * self.sounding_s - DONE_QUIET_S and quiet_s >= DONE_QUIET_S

    def is_knock(self, lasted_s: float, quiet_s: float) -> bool:
        """Whether what sounded last, so long, and was followed by so much silence, is no playing, but a knock that asks
        to start over."""
        return lasted_s <= KNOCK_S and quiet_s >= KNOCK_QUIET_S + SLOWER * self.rest_s


def _longest_rest(figure: Figure, starts: Sequence[float]) -> float:
    """Beats between one pick and the next, or the end: it may all be silent."""
    marks = sorted({*starts, 1.0 + float(figure.length)})
    return max(after - before for before, after in pairwise(marks))


def _longest_silence(figures: Sequence[Figure], notes: Sequence[Sequence[Note]]) -> float:
    """The longest time in beats, between two notes of figures in a row, in which none sounds."""
    begins = accumulate((float(figure.length) for figure in figures[:-1]), initial=0.0)
    sounding = sorted((at + n.start_beat, at + n.end_beat) for at, of in zip(begins, notes, strict=True) for n in of)
    longest, until = 0.0, sounding[0][1]
    for start, end in sounding:
        longest, until = max(longest, start - until), max(until, end)
    return longest
