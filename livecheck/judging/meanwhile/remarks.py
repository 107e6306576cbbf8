"""Remarks while the take goes on, for a source that tells strings exactly.

In: every string that is struck. Out: what has become certain of the attempt that is under way (`underway.py`).

An attempt is under way when strings are struck with which a figure begins; if the first were wrong, once the second
step came. Of several figures it is the one that comes next, or the last one again. What the player plays elsewhere in
the lesson is left to the verdicts: rather nothing is said than something wrong.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import replace
from statistics import median

from livecheck.judging.meanwhile.remark import Remark
from livecheck.judging.meanwhile.underway import Struck, Surroundings, Underway
from livecheck.judging.places.fitting import MOST_TUNING_CENTS, Fitting
from livecheck.judging.timing import Event, Line, fit_click
from livecheck.judging.verdict import FigureVerdict
from livecheck.lesson.expectation import Note

MEMORY = 40
"""Picks that tell how the instrument is tuned."""
IN_TUNE = (0.0,) * 3
"""Until there are more, an instrument is taken to be in tune."""
GRID_EVENTS = 24
"""Picks that tell where a click's beats lie."""
FIRST_BEATS, LEAST_BEATS = 2, 3
"""So many different beats tell a tempo: in the first figure, and where the one before has told."""
LOOSE_BEATS = 4.0
"""What was struck so long before a figure's second step may have been its first."""
MOST_LOOSE = 8


class Remarks:
    """Told of every string that is struck, asked what has become certain."""

    def __init__(self, fitting: Fitting) -> None:
        self._fitting = fitting
        self._brief = fitting.brief
        self._now: Underway | None = None
        self._since_s = 0.0
        """When it was known what is under way."""
        self._last = -1
        """The figure that was under way last."""
        self._beat_s = fitting.brief.lesson.beat_s
        self._is_first = True
        """Whether the player's tempo is not known yet."""
        self._offs_cents: deque[float] = deque(maxlen=MEMORY)
        self._on_grid: deque[Event] = deque(maxlen=GRID_EVENTS)
        self._attempts: dict[int, int] = {}
        self._loose: deque[Struck] = deque(maxlen=MOST_LOOSE)
        """Strings that were struck while nothing was under way, or that may be another beginning."""
        self._said: list[Remark] = []

    def struck(self, struck: Struck) -> None:
        """A string was struck just now."""
        start_s = struck.first[0]
        now = self._now
        if now is None or now.is_lost or now.is_over(start_s):
            self._loose.append(struck)
            self._open()
        elif now.takes(struck):
            for one in self._loose:
                self._said.append(now.extra(one))
            self._loose.clear()
        elif self._beginning(struck, 0) is None or (now.is_again(struck) and not now.is_near_end(start_s)):
            self._said.append(now.extra(struck))
        else:
            self._loose.append(struck)
            if now.is_near_end(start_s) or len(self._loose) > 1:
                self._open()

    def certain(self, now_s: float) -> list[Remark]:
        """What has become certain since this was asked last."""
        said, self._said = self._said, []
        if self._now is not None and not self._now.is_lost:
            said += self._now.certain(now_s)
            if self._now.is_over(now_s):
                self._let_go(now_s)
        return [
            Remark(
                replace(one.verdict, checkpoints=self._fitting.referenced(one.verdict.checkpoints)),
                max(one.since_s, self._since_s),
            )
            for one in said
        ]

    @property
    def is_waiting(self) -> bool:
        """Whether something may become certain at any moment though nothing comes."""
        return self._now is not None and not self._now.is_lost

    def ended(self, verdict: FigureVerdict) -> None:
        """A figure has been judged: its tempo is that of the next."""
        if verdict.tempo is not None:
            self._beat_s, self._is_first = 60.0 / verdict.tempo, False

    def _open(self) -> None:
        """Begin an attempt, if the last string that was struck says which; with those before it that belong to it."""
        *before, struck = self._loose
        start_s = struck.first[0]
        for step in (0, 1):
            found = self._beginning(struck, step)
            if found is None:
                continue
            self._let_go(start_s)
            figure, note = found
            self._attempts[figure] = self._attempts.get(figure, 0) + 1
            self._last, self._since_s = figure, start_s
            self._now = self._underway(figure, self._line(Event(note.start_beat, start_s)))
            self._now.takes(struck)
            self._loose.clear()
            for one in before:
                if one.first[0] > start_s - LOOSE_BEATS * self._beat_s:
                    self._now.takes(one)
            return

    def _beginning(self, struck: Struck, step: int) -> tuple[int, Note] | None:
        """The figure that has a string as it was struck in its first picked step (0), or the second (1), and where."""
        midi = struck.first[1] - self._fitting.reference_cents / 100.0
        found = {
            number: note
            for number, expectation in enumerate(self._fitting.expectations)
            for note in _of_step(expectation.notes, step)
            if note.string == struck.string
            and abs(note.checkpoints[0].midi - midi) * 100.0 < self._brief.tolerances.wrong_note_cents
        }
        for number in (self._last + 1, self._last):
            if number in found:
                return number, found[number]
        return next(iter(found.items())) if len(found) == 1 else None

    def _line(self, event: Event) -> Line:
        if self._brief.timing != "click":
            return Line(event.time_s - (event.beat - 1.0) * self._beat_s, self._beat_s)
        brief, events = self._brief, [[one] for one in (*self._on_grid, event)]
        return fit_click(events, brief.lesson.beat_s, brief.start_s, brief.begins_s)[-1]

    def _underway(self, figure: int, line: Line) -> Underway:
        tuning, is_tuned = self._fitting.reference_cents, True
        if self._brief.lesson.reference_hz is None:
            is_tuned = len(self._offs_cents) > len(IN_TUNE)
            tuning = min(max(median([*self._offs_cents, *IN_TUNE]), -MOST_TUNING_CENTS), MOST_TUNING_CENTS)
        least_beats = FIRST_BEATS if self._is_first else LEAST_BEATS
        around = Surroundings(line.beat_s, self._brief.timing == "click", tuning, is_tuned, least_beats)
        return Underway(self._brief, figure, self._attempts[figure], self._fitting.expectations[figure], around, line)

    def _let_go(self, now_s: float) -> None:
        """The attempt under way is left; what it tells of tuning and time is kept."""
        if self._now is not None:
            if not self._now.is_lost:
                self._said += self._now.certain(now_s, is_left=True)
            self._offs_cents.extend(self._now.offs_cents)
            self._on_grid.extend(self._now.events)
            if self._now.beat_s is not None:
                self._beat_s, self._is_first = self._now.beat_s, False
        self._now = None


def _of_step(notes: tuple[Note, ...], number: int) -> Iterator[Note]:
    """The notes of the first step that picks, or of one after it."""
    steps = sorted({note.checkpoints[0].step for note in notes})
    return (note for note in notes if number < len(steps) and note.checkpoints[0].step == steps[number])
