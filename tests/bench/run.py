"""Makes takes, has them graded, and compares the reports with the truth, on several cores if wanted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from multiprocessing import get_context

from tests.bench import grading
from tests.bench.habit import NONE, Habit
from tests.bench.room import in_room, is_wet
from tests.bench.score import Tally, compare
from tests.bench.take import make

UNSEEN_SEEDS = range(1000, 1010)
UNSEEN_INSTRUMENTS = ("acoustic", "clean", "banjo")
"""Kept apart: never looked at while the tool is being tuned, so that they tell how it does on what it does not know."""


@dataclass(frozen=True)
class Task:
    """One take to make, grade and compare."""

    set_name: str
    seed: int
    instrument: str | None
    """None: as MIDI."""
    room: str = "dry"
    clean: bool = False
    habit: Habit = NONE
    dense: bool = False
    name: str = ""
    """What its row is called; empty: by what it is."""

    @property
    def row(self) -> str:
        return self.name or f"{self.set_name}, {self.instrument or 'MIDI'}" + (
            "" if self.room == "dry" else f", {self.room}"
        )


def run(task: Task) -> tuple[Task, Tally]:
    take = make(task.set_name, task.seed, task.clean, habit=task.habit, dense=task.dense)
    truth = take.truth(task.instrument)
    if task.instrument is None:
        report = grading.grade_midi(take)
    else:
        heard = in_room(take.sound(task.instrument), task.room, task.seed, take.beat_s)
        report = grading.grade_audio(take, heard.samples, heard.rate_hz)
    return task, compare(truth, report, f"{task.row} {task.seed}", is_wet(task.room))


def run_all(tasks: Iterable[Task], jobs: int) -> Iterator[tuple[Task, Tally]]:
    """The tallies in the order of the tasks."""
    if jobs == 1:
        yield from map(run, tasks)
        return
    with get_context("fork").Pool(jobs) as pool:
        yield from pool.imap(run, tasks)
