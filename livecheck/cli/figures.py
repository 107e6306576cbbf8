"""Naming figures of a lesson on the command line, and the instrument and tempo to have it at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from livecheck.errors import Unusable

if TYPE_CHECKING:
    from livecheck.lesson.figure import Figure, Lesson


def chosen(lesson: Lesson, names: Sequence[str], path: str) -> tuple[Figure, ...]:
    """The named figures in the lesson's order, all if none is named. Unusable if the lesson at `path` lacks one."""
    known = [figure.name for figure in lesson.figures]
    for name in names:
        if name not in known:
            wanted = ", ".join(f'"{figure}"' for figure in known)
            raise Unusable(f'{path}: has no figure "{name}"; wanted one of {wanted}')
    return tuple(figure for figure in lesson.figures if not names or figure.name in names)


def asked_for(
    path: str, names: Sequence[str], copedent: str | None, tempo: float | None
) -> tuple[Lesson, tuple[Figure, ...]]:
    """A lesson, on another instrument and at another tempo if they are given, and its named figures."""
    from livecheck.lesson.reading import FASTEST, SLOWEST
    from livecheck.sources.library import load_lesson, on_instrument, said_by

    lesson = load_lesson(path)
    figures = chosen(lesson, names, path)
    if copedent is not None:
        with said_by("--copedent"):
            lesson = on_instrument(lesson, copedent)
    if tempo is not None:
        if not SLOWEST <= tempo <= FASTEST:
            raise Unusable(f"--tempo is {tempo:g}; wanted {SLOWEST:g} to {FASTEST:g} beats a minute")
        lesson = replace(lesson, tempo=tempo)
    return lesson, figures
