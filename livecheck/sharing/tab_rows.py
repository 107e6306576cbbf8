"""A lesson as plain-text tab: a row for each string, in ASCII, to print or to paste into other software.

In: a lesson and the figures of it to write. Out: text. String 1 is the top row, named by its pitch; time runs from left
to right, bar lines stand at the measures. A number is the fret, with the letters of the pedals and levers that pull the
string; before a note that is not picked, / and \\ say that the bar took it there, ^ and v that a pedal or lever raised
or lowered it. x is silence. Rows wrap at bar lines.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Figure, Lesson, Step
from livecheck.lesson.pitch import name_of
from livecheck.lesson.sounding import Sounding, sounding
from livecheck.reports.tablature import cell_text
from livecheck.reports.wording import plain

COLUMNS = 78
COLUMNS_A_BEAT = 4
HALF = "(0.5)"
LEAST_MOVED = 0.01
"""Semitones: what moves less is not written."""
SIGNS = "/ \\ bar slid up, down   ^ v pedal or lever raised, lowered   x silent   * harmonic"


def tab_rows(lesson: Lesson, figures: Sequence[Figure]) -> str:
    """The text, all of it ASCII."""
    lines = [plain(lesson.title), f"{lesson.meter}, tempo {lesson.tempo:g}, {plain(lesson.copedent.name)}"]
    for figure in figures:
        lines += ["", plain(figure.name), *_figure(figure, lesson.copedent, int(lesson.meter.partition("/")[0]))]
    return "\n".join([*lines, "", SIGNS, ""]).encode("ascii", "replace").decode("ascii")


def _figure(figure: Figure, copedent: Copedent, beats: int) -> Iterator[str]:
    moments = _moments(figure, copedent)
    count = math.ceil(figure.length / beats)
    ends = [*(Fraction(1 + beats * number) for number in range(1, count)), 1 + figure.length]
    measures = [
        _measure({beat: cells for beat, cells in moments.items() if begin <= beat < end}, begin, end, copedent)
        for begin, end in pairwise([Fraction(1), *ends])
    ]
    names = [name_of(midi) for midi in copedent.strings]
    left = max(map(len, names))
    rows: list[list[str]] = []
    for measure in measures:
        if rows and left + 2 + sum(len(cells[0]) + 1 for cells in [*rows, measure]) > COLUMNS:
            yield from _system(names, left, rows)
            yield ""
            rows = []
        rows.append(measure)
    yield from _system(names, left, rows)


def _moments(figure: Figure, copedent: Copedent) -> dict[Fraction, dict[int, str]]:
    """Beat -> string -> what is written there."""
    moments: dict[Fraction, dict[int, str]] = {}
    before: tuple[Step, Sounding] | None = None
    for step, sounds in zip(figure.steps, sounding(figure, copedent), strict=True):
        cells: dict[int, str] = {}
        for string, midi, since in zip(sounds.strings, sounds.midis, sounds.continues, strict=True):
            cell = cell_text(step.stance, string, copedent, HALF)
            if since is None:
                cells[string] = cell + ("*" if step.harmonic else "")
            elif before is not None and abs(midi - before[1].midis[since]) > LEAST_MOVED:
                cells[string] = _sign(before[0], step, string, midi - before[1].midis[since]) + cell
        rang = before[1].strings if before is not None else ()
        cells |= {string: "x" for string in rang if string not in sounds.strings and not step.pick}
        moments[step.beat] = cells
        before = step, sounds
    return moments


def _sign(before: Step, step: Step, string: int, semitones: float) -> str:
    """How a string that rings on gets there."""
    frets = step.stance.bar.fret_at(string) - before.stance.bar.fret_at(string)
    if frets:
        return "/" if frets > 0 else "\\"
    return "^" if semitones > 0 else "v"


def _measure(moments: Mapping[Fraction, Mapping[int, str]], begin: Fraction, end: Fraction, on: Copedent) -> list[str]:
    """A row for each string, all equally long."""
    rows = ["-"] * len(on.strings)
    for beat, cells in moments.items():
        column = max(1 + round((beat - begin) * COLUMNS_A_BEAT), *(len(row) for row in rows))
        for string, row in enumerate(rows, start=1):
            rows[string - 1] = row.ljust(column, "-") + cells.get(string, "")
        width = max(map(len, rows)) + 1
        rows = [row.ljust(width, "-") for row in rows]
    width = max(1 + math.ceil((end - begin) * COLUMNS_A_BEAT), len(rows[0]))
    return [row.ljust(width, "-") for row in rows]


def _system(names: Sequence[str], left: int, measures: Sequence[Sequence[str]]) -> Iterator[str]:
    for index, name in enumerate(names):
        yield f"{name:<{left}}|{'|'.join(measure[index] for measure in measures)}|"
