"""The hard sets: one kind of dirt or of playing at a time, mild, middle or harsh, on music of several kinds.

A set is named by its kind; a seed decides which music it is played on, except where the music itself is what is hard.
"""

from __future__ import annotations

from collections.abc import Sequence

from tests.bench.habit import Habit
from tests.bench.hands import HARD
from tests.bench.levels import HABITS, SOUND, at_level
from tests.bench.run import Task

MUSIC = ("double-stops", "grips", "lines", "strings")
DRY = "dry"


def kinds() -> tuple[str, ...]:
    return (DRY, *SOUND, *dict.fromkeys((*HABITS, *HARD)))


def tasks(kind: str, level: str, seeds: Sequence[int], instrument: str, clean: bool = False) -> list[Task]:
    """The takes of a set at a level."""
    habit = Habit(**at_level(HABITS, kind, level)) if kind in HABITS else Habit()
    room = f"{kind}:{level}" if kind in SOUND else DRY
    name = f"{kind}, {instrument}" if kind == DRY else f"{kind} {level}, {instrument}"
    return [
        Task(
            f"{kind}:{level}" if kind in HARD else MUSIC[seed % len(MUSIC)],
            seed,
            instrument,
            room,
            clean,
            habit,
            True,
            name,
        )
        for seed in seeds
    ]
