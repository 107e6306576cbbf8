"""A whole passage on the neck: the way to play it that moves least, and what else would do at each step.

In: steps in order, each the notes that sound once it is complete, as pitches (MIDI numbers with decimals) that either
are picked or continue a note of the step before under the same pick. Out: a position for each step, and the next-best
ones.

    neck = Neck(copedent)
    steps = [
        (Voice(71.0), Voice(68.0)),                             # two strings picked
        (Voice(73.0, continues=0), Voice(69.0, continues=1)),   # moved: bar and changes alone, on the same strings
        (Voice(76.0), Voice(69.0, continues=1)),                # one picked, the other rings on
    ]
    for choice in play_passage(neck, steps):
        choice.position, choice.alternatives, choice.broken

The positions of all steps together are the shortest path through the positions of each (Viterbi 1967, "Error bounds for
convolutional codes"), its length being `movement_frets` between steps and `Neck.effort` and the misfit at each.
Hands and feet move apart, so each step of the path is two smaller ones. A pedal that the notes of a step do not need
may stay down through it, where that saves letting go and pressing again.

With `Neck(copedent, halves=True)` half-pedals are thought of too, with `slants=True` slanted bars.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from livecheck.lesson.figure import Bar
from livecheck.neck.neck import Neck
from livecheck.neck.position import CHANGE_FRETS, STRING_FRETS, Position, movement_frets
from livecheck.neck.reach import Hold

MISFIT_FRETS = 0.02
"""Per cent that the strings lie off what was asked for, on average: it decides between equal movements."""
NEARER_CENTS, FAR_FRETS = 25.0, 0.3
"""Beyond the first a pitch is nearer to that of a half-pedal; the second is what each cent beyond costs then."""
BROKEN_FRETS = 1000.0
"""A note that cannot continue under its pick: only where nothing else is left."""
MOST_ALTERNATIVES = 3

Costs = NDArray[np.float64]
"""Shape (places of a step, holds of the neck)."""
State = tuple[int, int]
"""Numbers of a place and a hold, from 0."""


@dataclass(frozen=True)
class Voice:
    """One note of a step: its pitch once the step is complete."""

    midi: float
    continues: int | None = None
    """Which voice of the step before (an index from 0) goes on in this one, under its pick; None: it is picked."""
    string: int | None = None
    """The only string that it may be on, where that is known."""


@dataclass(frozen=True)
class Alternative:
    """Another position for one step, the others being chosen anew for it."""

    position: Position
    extra_frets: float
    """How much more the whole passage moves with it."""


@dataclass(frozen=True)
class Choice:
    """How one step is played."""

    position: Position | None
    """Its strings stand in the order of the step's voices. None where no position has these notes."""
    alternatives: tuple[Alternative, ...] = ()
    """The next-best ones, best first."""
    broken: tuple[int, ...] = ()
    """Voices that ought to continue but cannot, by index: they would have to be picked."""


def play_passage(
    neck: Neck,
    steps: Sequence[Sequence[Voice]],
    start: Position | None = None,
    most: int = MOST_ALTERNATIVES,
    strings: Sequence[int] | None = None,
) -> tuple[Choice, ...]:
    """The playing of least movement, a choice for each step, with at most so many alternatives each.

    `start`: where hands and feet are before it. `strings`: use no others. A step that cannot be played has no position;
    what follows goes on from the last one that has. ValueError if a voice continues one that is not there.
    """
    return Passage(neck, steps, strings).play(start, most)


def held_when_needed(neck: Neck, positions: Sequence[Position]) -> tuple[Position, ...]:
    """The same playing for a teacher to write down: what is down from the beginning is pressed where a string first
    feels it, and what is down to the end let go where none does any more."""
    return _without_idle(neck, _without_idle(neck, positions)[::-1])[::-1]


def _without_idle(neck: Neck, positions: Sequence[Position]) -> tuple[Position, ...]:
    idle = set(positions[0].hold.names) if positions else set()
    written = []
    for position in positions:
        idle &= {name for name in position.hold.names if not neck.feels(position, name)}
        held = tuple(level for level in position.hold.levels if level[0] not in idle)
        written.append(replace(position, hold=Hold(held)))
    return tuple(written)


class Passage:
    """A passage with all its positions found, to be played from more than one start."""

    def __init__(self, neck: Neck, steps: Sequence[Sequence[Voice]], strings: Sequence[int] | None = None) -> None:
        for before, after in pairwise([(), *steps]):
            for voice in after:
                if voice.continues is not None and not 0 <= voice.continues < len(before):
                    raise ValueError(f"a voice continues voice {voice.continues} of a step that has {len(before)}")
        self._neck, self._count = neck, len(steps)
        fields = _fields(neck, steps, strings)
        self._known = [number for number, field in enumerate(fields) if field.places]
        self._fields = [fields[number] for number in self._known]
        feet = [[one.changed(other) for other in neck.holds] for one in neck.holds]
        moved = CHANGE_FRETS * np.array(feet, dtype=np.float64)
        self._links = [_Link(fields[a], fields[b], steps[b], b == a + 1, moved) for a, b in pairwise(self._known)]

    def play(self, start: Position | None = None, most: int = MOST_ALTERNATIVES) -> tuple[Choice, ...]:
        """As `play_passage`."""
        choices = [Choice(None)] * self._count
        if not self._known:
            return tuple(choices)
        ahead = _swept(self._fields, self._links, start)
        behind = _swept_back(self._fields, self._links) if most else ahead
        path = _path(ahead, self._links)
        for index, (number, field, state) in enumerate(zip(self._known, self._fields, path, strict=True)):
            broken = self._links[index - 1].broken(path[index - 1][0], state[0]) if index else ()
            others = _alternatives(self._neck, field, ahead[index] + behind[index], state, most) if most else ()
            choices[number] = Choice(field.position(state), tuple(others), broken)
        return tuple(choices)


class _Field:
    """The positions that have a step's notes: strings and bar are a place, and each place goes with some holds."""

    def __init__(
        self, neck: Neck, voices: Sequence[Voice], numbers: Mapping[Hold, int], strings: Sequence[int] | None
    ) -> None:
        midis = [voice.midi for voice in voices]
        self.holds = neck.holds
        found: dict[tuple[tuple[int, ...], Bar], dict[int, Position]] = {}
        for position in neck.all_positions(midis, strings):
            if any(v.string not in (None, on) for v, on in zip(voices, position.strings, strict=True)):
                continue
            found.setdefault((position.strings, position.bar), {})[numbers[position.hold]] = position
        self.places = list(found)
        self.costs: Costs = np.full((len(found), len(neck.holds)), np.inf)
        """Of each place with each hold; infinite where that has other notes."""
        for place, by_hold in enumerate(found.values()):
            for hold, position in by_hold.items():
                off_cents = [100.0 * abs(a - b) for a, b in zip(neck.midis(position), midis, strict=True)]
                self.costs[place, hold] = neck.effort(position) + _misfit_frets(off_cents, neck.halves)
        positions = [next(iter(by_hold.values())) for by_hold in found.values()]
        self.strings = np.array([position.strings for position in positions], dtype=np.int64)
        self.ends = np.array([position.ends for position in positions], dtype=np.float64)
        self.middles = np.array([position.middle_string for position in positions])
        self.open = np.array([position.is_open for position in positions], dtype=bool)

    def position(self, state: State) -> Position:
        strings, bar = self.places[state[0]]
        return Position(strings, bar, self.holds[state[1]])


def _misfit_frets(off_cents: Sequence[float], halves: bool) -> float:
    """What it costs that strings lie so far off what was asked for. With half-pedals there is something nearer to what
    lies further off than half of them, so that it is asked for only where that is out of reach."""
    far = sum(max(0.0, cents - NEARER_CENTS) for cents in off_cents) if halves else 0.0
    return MISFIT_FRETS * sum(off_cents) / len(off_cents) + FAR_FRETS * far


class _Link:
    """What it costs to go from one step to the next: hands from place to place, feet and knees from hold to hold."""

    def __init__(self, before: _Field, after: _Field, voices: Sequence[Voice], follows: bool, feet: Costs) -> None:
        self.after, self.feet = after, feet
        self._cut = tuple(i for i, voice in enumerate(voices) if voice.continues is not None and not follows)
        self._carried = [(i, voice.continues) for i, voice in enumerate(voices) if voice.continues is not None]
        self._carried = self._carried if follows else []
        self._strings = before.strings, after.strings
        self._lifted = before.open[:, None] != after.open[None, :]
        self.hands: Costs = np.abs(before.ends[:, None, :] - after.ends[None, :, :]).max(axis=2)
        self.hands += STRING_FRETS * np.abs(before.middles[:, None] - after.middles[None, :])
        for here, there in self._carried:
            self.hands += BROKEN_FRETS * (before.strings[:, there][:, None] != after.strings[:, here][None, :])
        if self._carried:
            self.hands += BROKEN_FRETS * self._lifted

    def onward(self, costs: Costs) -> Costs:
        """From what each place and hold of the one step costs to what reaching those of the next does."""
        placed = np.stack([(costs + self.feet[:, hold]).min(axis=1) for hold in range(len(self.feet))], axis=1)
        return np.stack([(placed + column[:, None]).min(axis=0) for column in self.hands.T])

    def backward(self, costs: Costs) -> Costs:
        """From what it costs from each place and hold of the next step on to what it does from those of the one."""
        placed = np.stack([(costs + self.feet[:, hold]).min(axis=1) for hold in range(len(self.feet))], axis=1)
        return np.stack([(placed + row[:, None]).min(axis=0) for row in self.hands])

    def broken(self, one: int, other: int) -> tuple[int, ...]:
        """The voices that cannot continue between two places. The bar cannot be put on, or taken off, a ringing
        string without stopping it."""
        lifted, (before, after) = bool(self._lifted[one, other]), self._strings
        cut = (here for here, there in self._carried if lifted or before[one, there] != after[other, here])
        return (*self._cut, *cut)


def _fields(neck: Neck, steps: Sequence[Sequence[Voice]], strings: Sequence[int] | None) -> list[_Field]:
    numbers = {hold: number for number, hold in enumerate(neck.holds)}
    known: dict[tuple[tuple[float, int | None], ...], _Field] = {}
    fields = []
    for voices in steps:
        asked = tuple((voice.midi, voice.string) for voice in voices)
        if asked not in known:
            known[asked] = _Field(neck, voices, numbers, strings)
        fields.append(known[asked])
    return fields


def _swept(fields: Sequence[_Field], links: Sequence[_Link], start: Position | None) -> list[Costs]:
    """The least movement up to each place and hold of each step, its own cost included."""
    first = fields[0].costs.copy()
    if start is not None:
        for state in np.ndindex(first.shape):
            first[state] += movement_frets(start, fields[0].position(state))
    swept = [first]
    for link in links:
        swept.append(link.onward(swept[-1]) + link.after.costs)
    return swept


def _swept_back(fields: Sequence[_Field], links: Sequence[_Link]) -> list[Costs]:
    """The least movement from each place and hold of each step to the end, its own cost left out."""
    swept = [np.zeros_like(fields[-1].costs)]
    for link in reversed(links):
        swept.append(link.backward(swept[-1] + link.after.costs))
    return swept[::-1]


def _path(ahead: Sequence[Costs], links: Sequence[_Link]) -> list[State]:
    path = [_least(ahead[-1])]
    for costs, link in zip(ahead[-2::-1], reversed(links), strict=True):
        place, hold = path[-1]
        path.append(_least(costs + link.hands[:, place][:, None] + link.feet[:, hold][None, :]))
    return path[::-1]


def _least(costs: Costs) -> State:
    place, hold = divmod(int(costs.argmin()), costs.shape[1])
    return place, hold


def _alternatives(neck: Neck, field: _Field, totals: Costs, chosen: State, most: int) -> Iterator[Alternative]:
    """One for each way that differs in more than what the strings do not feel."""
    told = {_felt(neck, field.position(chosen))}
    for index in np.argsort(totals, axis=None, kind="stable"):
        place, hold = divmod(int(index), totals.shape[1])
        extra_frets = float(totals[place, hold] - totals[chosen])
        if len(told) > most or not extra_frets < BROKEN_FRETS / 2.0:
            return
        position = field.position((place, hold))
        if (felt := _felt(neck, position)) not in told:
            told.add(felt)
            yield Alternative(position, extra_frets)


def _felt(neck: Neck, position: Position) -> tuple[object, ...]:
    return position.strings, position.bar, neck.midis(position)
