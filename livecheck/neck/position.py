"""A way to play something: strings, bar, pedals and levers; and how far hands and feet move from one to another.

Movement is counted in frets of bar travel; what else moves is put in the same unit by common practice, no source: a
pedal or lever pressed or let go is about one fret, and the picking hand moves a string's width for a quarter of that.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Bar, Stance
from livecheck.neck.reach import NOTHING_HELD, Hold

CHANGE_FRETS = 1.0
STRING_FRETS = 0.25
SLANT_EFFORT = 1.0
FRET_EFFORT = 0.002
"""What the bar's place costs by itself. A slanted bar is hard to place; that frets are
lower only decides between equal movements."""


@dataclass(frozen=True)
class Position:
    """Strings that sound, where the bar lies, what is held."""

    strings: tuple[int, ...]
    """In the order of the notes that were asked for."""
    bar: Bar
    hold: Hold = NOTHING_HELD

    @property
    def stance(self) -> Stance:
        """As a lesson's step has it."""
        return Stance(self.bar, self.hold.down)

    @cached_property
    def ends(self) -> tuple[float, float]:
        """Frets under the bar at the farthest and the nearest of the strings."""
        return self.bar.fret_at(min(self.strings)), self.bar.fret_at(max(self.strings))

    @cached_property
    def middle_string(self) -> float:
        return sum(self.strings) / len(self.strings)

    @property
    def is_open(self) -> bool:
        return self.ends == (0.0, 0.0)

    def midis(self, copedent: Copedent) -> tuple[float, ...]:
        """The pitch of each string, tempering included, in the order of `strings`."""
        return tuple(self.stance.midi(string, copedent) for string in self.strings)

    @property
    def bar_effort(self) -> float:
        """What it costs to hold the bar here, in frets."""
        return FRET_EFFORT * max(self.ends) + (0.0 if self.bar.is_straight else SLANT_EFFORT)


def movement_frets(one: Position, other: Position) -> float:
    """How far hands and feet move from one position to another, in frets of bar travel."""
    (here, near), (there, far) = one.ends, other.ends
    travel = max(abs(here - there), abs(near - far))
    feet = CHANGE_FRETS * one.hold.changed(other.hold)
    return travel + feet + STRING_FRETS * abs(one.middle_string - other.middle_string)
