"""A figure: what is played, step by step, with everything that the file leaves out filled in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from math import inf

from livecheck.lesson.copedent import Copedent


@dataclass(frozen=True)
class Bar:
    """Where the bar lies: a fret, or a fret per string when it is slanted. Fret 0 is open."""

    frets: tuple[tuple[int, float], ...]
    """(string, fret) in string order; a straight bar is one pair whose string does not matter."""

    @classmethod
    def straight(cls, fret: float) -> Bar:
        return cls(((0, fret),))

    @classmethod
    def slanted(cls, frets: Mapping[int, float]) -> Bar:
        if len(set(frets.values())) == 1:
            return cls.straight(next(iter(frets.values())))
        return cls(tuple(sorted(frets.items())))

    @property
    def is_straight(self) -> bool:
        return len(self.frets) == 1

    def fret_at(self, string: int) -> float:
        """The fret under the bar at a string; strings between and beyond those given follow the bar's line."""
        points = self.frets
        if len(points) == 1:
            return points[0][1]
        upper = next((i for i, (given, _) in enumerate(points) if i > 0 and string <= given), len(points) - 1)
        (string_a, fret_a), (string_b, fret_b) = points[upper - 1], points[upper]
        return fret_a + (fret_b - fret_a) * (string - string_a) / (string_b - string_a)


@dataclass(frozen=True)
class Stance:
    """What hands, feet and knees hold once a step is complete."""

    bar: Bar
    down: Mapping[str, float] = field(default_factory=dict)
    pull: Mapping[int, float] = field(default_factory=dict)

    def shift(self, string: int, copedent: Copedent) -> float:
        """Semitones above the string under the bar: pedals, levers, pulls."""
        return copedent.shift(string, self.down) + self.pull.get(string, 0.0)

    def midi(self, string: int, copedent: Copedent) -> float:
        """The pitch that a string has in this stance."""
        return copedent.open_midi(string) + self.bar.fret_at(string) + self.shift(string, copedent)


@dataclass(frozen=True)
class Step:
    """One step, complete at `beat`."""

    number: int
    beat: Fraction
    stance: Stance
    over: Fraction
    """Beats that a move takes, ending on `beat`."""
    moves_bar: bool = False
    moves_changes: bool = False
    pick: tuple[int, ...] = ()
    keeps: frozenset[int] | None = frozenset()
    """Strings that a pick lets ring; None keeps all."""
    roll: Fraction = Fraction(0)
    harmonic: int | None = None
    swell: bool = False
    block: frozenset[int] | None = frozenset()
    """Strings silenced at `beat`; None silences all."""
    vibrato: bool = False
    remark: str = ""

    @property
    def is_move(self) -> bool:
        return not self.pick and (self.moves_bar or self.moves_changes)

    def blocks(self, string: int) -> bool:
        """Whether it silences a string without a pick."""
        return self.block is None or string in self.block

    def silences(self, string: int) -> bool:
        """Whether a string that rang before it does not ring on through it."""
        kept = not self.pick or self.keeps is None or string in self.keeps
        return self.blocks(string) or string in self.pick or not kept

    def pick_beat(self, string: int) -> Fraction:
        """When a string of this step is struck: a rolled grip spreads in the order listed."""
        return self.beat + self.roll * self.pick.index(string)


@dataclass(frozen=True)
class Figure:
    name: str
    length: Fraction
    """Beats, rests at the end included."""
    steps: tuple[Step, ...]
    backing_s: float | None = None
    """When its beat 1 is in the lesson's backing."""

    @cached_property
    def gaps(self) -> tuple[float, ...]:
        """Beats from each step to the nearest one on another beat; infinite if there is none."""
        return tuple(
            min((abs(float(other.beat - step.beat)) for other in self.steps if other.beat != step.beat), default=inf)
            for step in self.steps
        )


@dataclass(frozen=True)
class Lesson:
    title: str
    tempo: float
    """Beats a minute."""
    meter: str
    copedent: Copedent
    copedent_name: str
    figures: tuple[Figure, ...]
    tolerances: str = "standard"
    backing: str | None = None
    """Path of the file to play with, as the lesson has it."""
    reference_hz: float | None = None
    """Frequency of A4, or None: the take's own pitch."""

    @property
    def beat_s(self) -> float:
        return 60.0 / self.tempo
