"""What sounds at each step of a figure, once the step is complete.

In: a figure and its copedent. Out: for each step the strings that sound, their pitches, and which of them ring on from
the step before.
"""

from __future__ import annotations

from dataclasses import dataclass

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Figure


@dataclass(frozen=True)
class Sounding:
    """One step: a value for each string that sounds, those that ring on first, then those picked in their order."""

    strings: tuple[int, ...]
    midis: tuple[float, ...]
    """Under the bar; a harmonic sounds higher than that."""
    continues: tuple[int | None, ...]
    """Where the string stood in the step before, from 0; None where it is picked."""
    harmonics: tuple[int | None, ...]
    """How many frets above the bar the string was touched when it was picked; None where it was not."""


def sounding(figure: Figure, copedent: Copedent) -> list[Sounding]:
    """One for each step."""
    found: list[Sounding] = []
    touched: dict[int, int | None] = {}
    for step in figure.steps:
        before = found[-1].strings if found else ()
        kept = [string for string in before if not step.silences(string)]
        touched |= dict.fromkeys(step.pick, step.harmonic)
        strings = (*kept, *step.pick)
        found.append(
            Sounding(
                strings,
                tuple(step.stance.midi(string, copedent) for string in strings),
                tuple(before.index(string) if string in kept else None for string in strings),
                tuple(touched[string] for string in strings),
            )
        )
    return found
