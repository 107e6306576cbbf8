"""Verdicts made by hand on a small lesson, and what they look like as text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from io import StringIO
from typing import Any

from rich.console import Console, RenderableType

from livecheck.judging.verdict import CheckpointVerdict, ExtraVerdict, FigureVerdict, TakeVerdict
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import expect
from livecheck.lesson.figure import Lesson
from livecheck.lesson.reading import read_copedent, read_lesson

E9 = read_copedent(
    """
    format = 1
    name = "E9, ten strings"
    strings = ["F#4", "D#4", "G#4", "E4", "B3", "G#3", "F#3", "E3", "D3", "B2"]
    [changes]
    A = { 5 = 2, 10 = 2 }
    B = { 3 = 1, 6 = 1 }
    LKL = { 4 = 1, 8 = 1 }
    LKR = { 4 = -1, 8 = -1 }
    RKL = { 1 = 1, 6 = -2 }
    """,
    "e9.toml",
)
LAP = read_copedent(
    'format = 1\nname = "six strings"\nstrings = ["E4", "C#4", "A3", "E3", "C#3", "A2"]\n'
    "string_cents = [2, -13.7, 0, 2, -13.7, 0]",
    "lap.toml",
)

PORCH = """
format = 1
title = "Back porch [slow]"
tempo = 60
copedent = "e9"
[[figure]]
name = "1"
length = 8
steps = [
  { beat = 1, fret = 10, down = ["LKR"], pick = [5, 8] },
  { beat = "2 1/2", down = [], over = 0.5, remark = "lever [off] slowly" },
  { beat = 4, fret = 12, down = ["B"], over = 0.75 },
  { beat = 5, fret = 7, down = { B = 0.5 }, pick = [3, 4] },
  { beat = 7, block = "all" },
]
[[figure]]
name = "grips"
length = 12
steps = [
  { beat = 1, fret = 3, down = ["A", "B"], pick = [5, 6, 8] },
  { beat = 3, down = [] },
  { beat = 5, fret = 8, pick = [4, 5, 6] },
  { beat = 7, fret = 10, down = ["A"], over = 1 },
]
[[figure]]
name = "walk"
length = 8
steps = [
  { beat = 1, fret = 3, pick = [6] },
  { beat = 3, fret = 5, over = 1 },
  { beat = 5, fret = 7, pick = [6] },
  { beat = 7, fret = 8 },
]
"""


def lesson_of(text: str = PORCH, copedent: Copedent = E9) -> Lesson:
    return read_lesson(text, "lesson.toml", lambda _: copedent)


def figure_of(
    lesson: Lesson,
    name: str,
    wrong: Mapping[tuple[int, int], Mapping[str, Any]] | None = None,
    extras: tuple[ExtraVerdict, ...] = (),
    *,
    attempt: int = 1,
    found: bool = True,
    tempo: float = 60.0,
) -> FigureVerdict:
    """A verdict that is clean but for what is given by (step, string); `ms` and `off_cents` move what was heard."""
    figure = next(figure for figure in lesson.figures if figure.name == name)
    if not found:
        return FigureVerdict(figure, attempt, False, None, None, (), ())
    checkpoints = []
    for asked in expect(figure, lesson.copedent).checkpoints:
        expected_s = 1.0 + (asked.beat - 1.0) * 60.0 / tempo
        verdict = CheckpointVerdict(
            step=asked.step,
            string=asked.string,
            kind=asked.kind,
            move=asked.move,
            beat=asked.beat,
            judged=True,
            expected_s=expected_s,
            heard_s=expected_s,
            timing_ms=0.0,
            expected_midi=asked.midi,
            heard_midi=asked.midi,
            cents=0.0,
            faults=(),
        )
        given = dict((wrong or {}).get((asked.step, asked.string), {}))
        if "ms" in given:
            ms = given.pop("ms")
            verdict = replace(verdict, timing_ms=ms, heard_s=expected_s + ms / 1000.0)
        if "off_cents" in given:
            cents = given.pop("off_cents")
            verdict = replace(verdict, cents=cents, heard_midi=asked.midi + cents / 100.0)
        checkpoints.append(replace(verdict, **given))
    return FigureVerdict(figure, attempt, True, 1.0, tempo, tuple(checkpoints), extras)


def take_of(*figures: FigureVerdict, tuning_cents: float = 0.0, take: str = "monday.wav") -> TakeVerdict:
    return TakeVerdict("Back porch [slow]", take, "audio", tuning_cents, 60.0, figures)


def text_of(renderable: RenderableType, width: int = 80) -> str:
    """As it looks in a plain file."""
    out = StringIO()
    Console(file=out, width=width, color_system=None, highlight=False).print(renderable)
    return out.getvalue()


NOT_HEARD: Mapping[str, Any] = {"heard_s": None, "timing_ms": None, "heard_midi": None, "cents": None}
