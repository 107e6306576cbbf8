"""What a figure should sound like: notes with pitch curves, and the checkpoints on them.

Time is beats from 1 at the figure's start; pitch is MIDI numbers, tempering included. A `Note` is one string from its
pick until it is picked again, blocked, or the figure ends. Bar and pedals are separate curves that add, each
linear in pitch; where the instrument's cabinet drop is known, it falls and comes back with the pedals.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Figure, Step

Kind = Literal["pick", "arrive"]
Move = Literal["slide", "pedal", "both"]
Ending = Literal["pick", "block", "end"]

LEAST_MOVE = 0.5
"""Semitones: a smaller change of a ringing string is no checkpoint."""
HARMONIC_SEMITONES = {12: 12.0, 7: 12.0 * np.log2(3.0), 5: 24.0}
"""Touching a string at half, a third, a quarter of its length gives its 2nd, 3rd, 4th partial."""


@dataclass(frozen=True)
class Checkpoint:
    """One thing to judge: a string struck, or a ringing string's arrival."""

    step: int
    string: int
    kind: Kind
    beat: float
    midi: float
    """The pitch once the step is complete."""
    from_midi: float | None = None
    """Where a move starts from."""
    over: float = 0.0
    move: Move | None = None
    swell: bool = False


@dataclass(frozen=True)
class Note:
    """One string from pick to end."""

    string: int
    start_beat: float
    end_beat: float
    ending: Ending
    knots: tuple[tuple[float, float], ...]
    """(beat, midi), linear in between, in order of beat."""
    checkpoints: tuple[Checkpoint, ...]
    harmonic: bool = False

    def midi_at(self, beats: NDArray[np.float64]) -> NDArray[np.float64]:
        """Expected pitch at some beats; held flat before the first knot and after the last."""
        return np.asarray(np.interp(beats, *self._points), dtype=np.float64)

    @cached_property
    def _points(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The knots' beats, and their pitches."""
        beats, midis = zip(*self.knots, strict=True)
        return np.array(beats, dtype=np.float64), np.array(midis, dtype=np.float64)


@dataclass(frozen=True)
class Expectation:
    """A figure's notes in order of their picks, and all its checkpoints in order of step and string."""

    figure: Figure
    notes: tuple[Note, ...]

    @cached_property
    def checkpoints(self) -> tuple[Checkpoint, ...]:
        found = [checkpoint for note in self.notes for checkpoint in note.checkpoints]
        return tuple(sorted(found, key=lambda c: (c.step, c.string)))

    @cached_property
    def beats(self) -> tuple[float, ...]:
        """The different beats on which something is to be checked."""
        return tuple(sorted({checkpoint.beat for checkpoint in self.checkpoints}))

    @cached_property
    def shifts(self) -> tuple[float, ...]:
        """By how many beats the figure may be mistaken for itself: so much later half of those of its notes come again
        that are not its last."""
        begun = {(note.start_beat, note.string, round(note.checkpoints[0].midi)) for note in self.notes}
        later = [
            round(beat - start, 6)  # thirds of a beat are not quite alike
            for start, string, midi in begun
            for beat in {n.start_beat for n in self.notes}
            if beat > start and (beat, string, midi) in begun
        ]
        return tuple(sorted(beats for beats in set(later) if 2 * later.count(beats) >= len(begun) - 1))


def expect(figure: Figure, copedent: Copedent) -> Expectation:
    """Compile a figure to the notes that it asks for."""
    notes: list[Note] = []
    ringing: dict[int, Step] = {}
    for step in figure.steps:
        for string, ending in _silenced(step, ringing):
            notes.append(_note(figure, copedent, ringing.pop(string), string, float(step.beat), ending))
        for string in step.pick:
            ringing[string] = step
    for string, start in ringing.items():
        notes.append(_note(figure, copedent, start, string, float(1 + figure.length), "end"))
    notes.sort(key=lambda note: (note.start_beat, note.string))
    return Expectation(figure, tuple(notes))


def _silenced(step: Step, ringing: dict[int, Step]) -> list[tuple[int, Ending]]:
    return [
        (string, "block" if step.blocks(string) and string not in step.pick else "pick")
        for string in ringing
        if step.silences(string)
    ]


def _note(figure: Figure, copedent: Copedent, start: Step, string: int, end: float, ending: Ending) -> Note:
    begin = float(start.pick_beat(string))
    raised = HARMONIC_SEMITONES[start.harmonic] if start.harmonic else 0.0
    base = copedent.open_midi(string) + raised
    bar: list[tuple[float, float]] = [(float(start.beat), start.stance.bar.fret_at(string))]
    changes: list[tuple[float, float]] = [(float(start.beat), start.stance.shift(string, copedent))]
    drops: list[tuple[float, float]] = [(float(start.beat), -copedent.drop(string, start.stance.down))]
    first = base + bar[0][1] + changes[0][1] + drops[0][1]
    checkpoints = [Checkpoint(start.number, string, "pick", begin, first, swell=start.swell)]
    for step in figure.steps[start.number :]:
        if float(step.beat) >= end:
            break
        before = base + bar[-1][1] + changes[-1][1] + drops[-1][1]
        fret, shift = step.stance.bar.fret_at(string), step.stance.shift(string, copedent)
        slid, squeezed = fret != bar[-1][1], shift != changes[-1][1]
        _ramp(bar, fret, step)
        _ramp(changes, shift, step)
        _ramp(drops, -copedent.drop(string, step.stance.down), step)
        after = base + fret + shift + drops[-1][1]
        if abs(after - before) >= LEAST_MOVE - 1e-9:
            move: Move = "both" if slid and squeezed else "slide" if slid else "pedal"
            checkpoints.append(
                Checkpoint(step.number, string, "arrive", float(step.beat), after, before, float(step.over), move)
            )
    curves = (bar, changes, drops)
    beats = sorted({begin, end, *(b for curve in curves for b, _ in curve)})
    total = base + np.sum([_values(curve, beats) for curve in curves], axis=0)
    knots = tuple(zip(beats, total.tolist(), strict=True))
    return Note(string, begin, end, ending, knots, tuple(checkpoints), start.harmonic is not None)


def _ramp(knots: list[tuple[float, float]], value: float, step: Step) -> None:
    """Extend a curve by a step's move, if it moves at all."""
    if value != knots[-1][1]:
        knots.append((max(float(step.beat - step.over), knots[-1][0]), knots[-1][1]))
        knots.append((float(step.beat), value))


def _values(knots: list[tuple[float, float]], beats: list[float]) -> NDArray[np.float64]:
    return np.interp(beats, [b for b, _ in knots], [v for _, v in knots])
