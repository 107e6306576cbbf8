"""Naming figures of a lesson on the command line."""

from __future__ import annotations

from collections.abc import Sequence
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
