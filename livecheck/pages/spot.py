"""Where in a figure its mistakes lie: numbered in order of time, each with the stretches of strings it shows on.

In: the verdict on a figure and what it asks. Out: `Marked` mistakes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from livecheck.judging.verdict import CheckpointVerdict, FigureVerdict
from livecheck.lesson.expectation import Note
from livecheck.pages.span import Span
from livecheck.reports.mistake import Mistake, mistakes_of

SHOWN_S = 0.8
"""How much of a note that is wrong is marked."""
AROUND_S = 0.2
EXTRA_S = 0.35


@dataclass(frozen=True)
class Spot:
    string: int | None
    from_s: float
    until_s: float


@dataclass(frozen=True)
class Marked:
    number: int
    mistake: Mistake
    spots: tuple[Spot, ...]


def marked(figure: FigureVerdict, notes: Sequence[Note], span: Span) -> list[Marked]:
    """The mistakes of a figure with where they show, in order of time."""
    found = [(mistake, tuple(_spots(mistake, notes, span))) for mistake in mistakes_of(figure)]
    found.sort(key=lambda pair: min((spot.from_s for spot in pair[1]), default=0.0))
    return [Marked(number, mistake, spots) for number, (mistake, spots) in enumerate(found, start=1)]


def _spots(mistake: Mistake, notes: Sequence[Note], span: Span) -> Iterator[Spot]:
    for extra in mistake.extras:
        yield Spot(extra.string, extra.at_s - 0.05, extra.at_s + EXTRA_S)
    for checkpoint in mistake.checkpoints:
        yield _of_checkpoint(checkpoint, mistake, notes, span)


def _of_checkpoint(c: CheckpointVerdict, mistake: Mistake, notes: Sequence[Note], span: Span) -> Spot:
    end_s = _end_s(c, notes, span)
    if mistake.fault in ("early", "late") and c.heard_s is not None:
        early_s, late_s = sorted((c.expected_s, c.heard_s))
        return Spot(c.string, early_s, max(late_s, early_s + 0.05))
    if mistake.fault == "cut-short":
        return Spot(c.string, max(c.expected_s, end_s - SHOWN_S), end_s)
    if mistake.fault == "rang-on":
        return Spot(c.string, end_s, end_s + SHOWN_S)
    from_s = c.expected_s if c.heard_s is None else c.heard_s
    return Spot(c.string, from_s, max(min(from_s + SHOWN_S, end_s), from_s + AROUND_S))


def _end_s(c: CheckpointVerdict, notes: Sequence[Note], span: Span) -> float:
    """When the note of a checkpoint is to end."""
    ends = [
        note.end_beat
        for note in notes
        if note.string == c.string and note.start_beat - 1e-6 <= c.beat <= note.end_beat + 1e-6
    ]
    return span.time_s(max(ends, default=c.beat + 1.0))
