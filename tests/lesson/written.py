"""Lessons written for the tests."""

from __future__ import annotations

from livecheck.errors import Unusable
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import Checkpoint, Expectation, Note, expect
from livecheck.lesson.figure import Lesson
from livecheck.lesson.reading import read_copedent, read_lesson
from livecheck.sources.library import load_copedent

STEEL = """
format = 1
strings = ["B4", "G#4", "E4"]
[changes]
P = { 1 = 2 }
L = { 1 = -1, 3 = -1 }
"""


def steel() -> Copedent:
    return read_copedent(STEEL, "steel.toml")


def lesson_text(*steps: str, length: str = "8", head: str = "") -> str:
    """A lesson of one figure, named "1"; `head` adds keys at the top."""
    lines = ",\n  ".join(f"{{ {step} }}" for step in steps)
    top = f'format = 1\ntempo = 60\ncopedent = "e9-ten-string"\n{head}\n'
    return f'{top}[[figure]]\nname = "1"\nlength = {length}\nsteps = [\n  {lines}\n]\n'


def read(text: str, copedent: Copedent | None = None) -> Lesson:
    return read_lesson(text, "porch.toml", lambda named: copedent or load_copedent(named))


def expected(*steps: str, length: str = "8", copedent: Copedent | None = None) -> Expectation:
    """What a figure of these steps asks for; on E9 if no other instrument is given."""
    lesson = read(lesson_text(*steps, length=length), copedent)
    return expect(lesson.figures[0], lesson.copedent)


def note_of(expectation: Expectation, string: int) -> Note:
    """The only note of a string."""
    (note,) = (note for note in expectation.notes if note.string == string)
    return note


def arrivals(expectation: Expectation) -> list[Checkpoint]:
    return [checkpoint for checkpoint in expectation.checkpoints if checkpoint.kind == "arrive"]


def complaint_about(text: str) -> str | None:
    """What is said of a lesson, after the file's name, in one line; None if it can be used."""
    try:
        read(text)
    except Unusable as error:
        (line,) = str(error).splitlines()
        where, said = line.split(": ", 1)
        return said if where == "porch.toml" else line
    return None
