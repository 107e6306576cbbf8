"""Takes for pages: the bundled one with its eight mistakes, and small ones as MIDI."""

from __future__ import annotations

from functools import cache

from livecheck.demo.planted import path_of
from livecheck.grading.take import Asked, play
from livecheck.judging.brief import Brief
from livecheck.reports.played import PlayedTake
from livecheck.sources.library import lesson_tolerances, load_input, load_lesson

LESSON = str(path_of("lesson.toml"))
TAKE = str(path_of("take.ogg"))


def asked() -> Asked:
    lesson = load_lesson(LESSON)
    brief = Brief(lesson, lesson.figures, lesson_tolerances(lesson, LESSON))
    return Asked(brief, load_input("channel-per-string").for_strings(len(lesson.copedent.strings)))


@cache
def demo_take(name: str = "take.ogg") -> PlayedTake:
    """The bundled take, called as told."""
    return play(TAKE, name, asked())
