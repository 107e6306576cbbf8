"""Random lessons: grips, lines, pedal moves and slides on one instrument."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests.holdout.instrument import Instrument

SAME = 0.5
"""Semitones: nearer pitches are one note to the ear."""


@dataclass(frozen=True)
class Step:
    beat: float
    fret: int
    down: tuple[str, ...]
    pick: tuple[int, ...] = ()
    over: float = 0.25
    block: bool = False

    def toml(self) -> str:
        if self.block:
            return f'{{ beat = {self.beat}, block = "all" }}'
        names = ", ".join(f'"{change}"' for change in self.down)
        doing = f"pick = [{', '.join(map(str, self.pick))}]" if self.pick else f"over = {self.over}"
        return f"{{ beat = {self.beat}, fret = {self.fret}, down = [{names}], {doing} }}"


@dataclass(frozen=True)
class Figure:
    name: str
    length: float
    steps: tuple[Step, ...]

    def toml(self) -> str:
        steps = "".join(f"  {step.toml()},\n" for step in self.steps)
        return f'\n[[figure]]\nname = "{self.name}"\nlength = {self.length}\nsteps = [\n{steps}]\n'


@dataclass(frozen=True)
class Lesson:
    instrument: Instrument
    tempo: int
    figures: tuple[Figure, ...]

    def toml(self) -> str:
        head = f'format = 1\ntitle = "Hold-out"\ntempo = {self.tempo}\ncopedent = "{self.instrument.name}"\n'
        return head + "".join(figure.toml() for figure in self.figures)


def apart(pitches: list[float], least: float = SAME) -> bool:
    ordered = sorted(pitches)
    return all(high - low > least for low, high in pairwise(ordered))


def compose(rng: np.random.Generator, instrument: Instrument) -> Lesson:
    figures = tuple(_figure(rng, instrument, str(number + 1)) for number in range(int(rng.integers(4, 6))))
    return Lesson(instrument, int(rng.integers(66, 100)), figures)


def _figure(rng: np.random.Generator, instrument: Instrument, name: str) -> Figure:
    line = rng.random() < 0.35
    fret, down, beat = int(rng.integers(2, 11)), (), 1.0
    grip = _grip(rng, instrument, line, fret, down)
    steps = [Step(beat, fret, down, grip)]
    while len(steps) < rng.integers(6, 9):
        beat += float(rng.choice([0.5, 1, 1, 2] if line else [1, 1, 2]))
        previous = steps[-1]
        moved = _moved(rng, instrument, previous, grip)
        if moved is not None and rng.random() < (0.3 if line else 0.6):
            steps.append(Step(beat, *moved, over=float(rng.choice([0.25, 0.5])) if beat - previous.beat >= 1 else 0.25))
            continue
        if rng.random() < 0.75:
            fret = int(np.clip(previous.fret + rng.choice([-3, -2, 0, 0, 2, 3]), 1, 12))
            grip = _grip(rng, instrument, line, fret, previous.down)
        else:
            fret = previous.fret
        steps.append(Step(beat, fret, previous.down, grip))
    beat += 2
    return Figure(name, beat + 1, (*steps, Step(beat, steps[-1].fret, steps[-1].down, block=True)))


def _grip(
    rng: np.random.Generator, instrument: Instrument, line: bool, fret: int, down: tuple[str, ...]
) -> tuple[int, ...]:
    while True:
        size = 1 if line else int(rng.choice([2, 2, 2, 3, 3, 4]))
        start = int(rng.integers(1, len(instrument.open_midi) - (0 if line else 1)))
        grip = tuple(int(string) for string in start + np.cumsum([0, *rng.integers(1, 3, size - 1)]))
        pitches = [instrument.pitch(string, fret, down) for string in grip if string in instrument.strings]
        if len(pitches) == size and min(pitches) >= 43 and apart(pitches, 1.5):
            return grip


def _moved(
    rng: np.random.Generator, instrument: Instrument, at: Step, grip: tuple[int, ...]
) -> tuple[int, tuple[str, ...]] | None:
    """A bar slide or a pedal that moves a string of the grip; none where pitches would fall together."""
    useful = [change for change, pulls in instrument.changes.items() if set(pulls) & set(grip)]
    if useful and rng.random() < 0.5:
        change = str(rng.choice(useful))
        fret, down = at.fret, tuple(sorted({change} ^ set(at.down)))
    else:
        fret, down = int(at.fret + rng.choice([-5, -3, -2, 2, 3, 5])), at.down
    before = [instrument.pitch(string, at.fret, at.down) for string in grip]
    after = [instrument.pitch(string, fret, down) for string in grip]
    steady = all(abs(a - b) < 0.1 or abs(a - b) >= SAME for a, b in zip(before, after, strict=True))
    stirs = any(abs(a - b) >= SAME for a, b in zip(before, after, strict=True))
    return (fret, down) if 1 <= fret <= 14 and steady and stirs and apart(after, 0.9) else None
