"""An instrument's neck: every place where given notes can be played on it.

In: pitches as MIDI numbers with decimals. Out: positions that sound them, each on a string of its own. The strings of
a copedent may be tempered, so a string has a note when it is nearer to it than `FIT_CENTS`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import permutations

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Bar
from livecheck.neck.position import Position
from livecheck.neck.reach import Hold, effort_frets, holds

HIGHEST_FRET = 24
"""Common practice: necks are marked up to two octaves; above it no bar can be placed with certainty."""
FIT_CENTS = 45.0
"""Tempered changes and strings lie up to about 40 cents away from the notes that they are named for."""
LEAST_FELT = 0.001
"""Semitones: what moves less does not move."""
STEEPEST_SLANT = 1.0
"""Frets from one string to the next; steeper bars cannot be held true (common practice, no source)."""
WIDEST_SLANT = 2.0
"""Frets from the farthest to the nearest string under a slanted bar (common practice, no source)."""
LOWEST_SLANTED_FRET = 1.0


class Neck:
    """A copedent with all that can be held on it. `slants`: also with a slanted bar; None: where there is no pedal."""

    def __init__(self, copedent: Copedent, halves: bool = False, slants: bool | None = None) -> None:
        self.copedent = copedent
        self.strings = tuple(range(1, len(copedent.strings) + 1))
        self.halves = halves
        self.holds = holds(copedent, halves)
        self.slants = not copedent.changes if slants is None else slants
        self._open: Mapping[Hold, Mapping[int, float]] = {hold: self._open_midis(hold) for hold in self.holds}
        self._efforts = {hold: effort_frets(hold, copedent) for hold in self.holds}
        self._felt = {hold: self._feel(hold) for hold in self.holds}

    def _open_midis(self, hold: Hold) -> Mapping[int, float]:
        down = hold.down
        return {s: self.copedent.open_midi(s) + self.copedent.shift(s, down) for s in self.strings}

    def open_midis(self, hold: Hold) -> Mapping[int, float]:
        """String -> its pitch without the bar, with some pedals and levers."""
        return self._open[hold]

    def midis(self, position: Position) -> tuple[float, ...]:
        """The pitch of each string in a position of this neck, tempering included, in the order of its strings."""
        opened = self._open[position.hold]
        return tuple(opened[string] + position.bar.fret_at(string) for string in position.strings)

    def effort(self, position: Position) -> float:
        """What it costs to be in a position of this neck, in frets of bar travel."""
        return position.bar_effort + self._efforts[position.hold]

    def all_positions(self, midis: Sequence[float], strings: Sequence[int] | None = None) -> Iterator[Position]:
        """Every way to sound these pitches, also while pedals are held that none of the strings feels.

        `strings`: use no others.
        """
        usable = self.strings if strings is None else tuple(strings)
        if not 0 < len(midis) <= len(usable):
            return
        for hold, opened in self._open.items():
            for fret in sorted({round(midis[0] - opened[string]) for string in usable}):
                if 0 <= fret <= HIGHEST_FRET:
                    for chosen in _assigned(midis, opened, usable, fret):
                        yield Position(chosen, Bar.straight(float(fret)), hold)
        if self.slants and len(midis) > 1:
            yield from self._slanted(midis, usable)

    def positions(self, midis: Sequence[float], strings: Sequence[int] | None = None) -> Iterator[Position]:
        """Every way to sound these pitches with no pedal or lever held that could as well be let go."""
        return (position for position in self.all_positions(midis, strings) if self.needs_all(position))

    def on_strings(self, midis: Sequence[float], strings: Sequence[int]) -> Iterator[Position]:
        """Every way to sound each of these pitches on just the string that stands at its place, with no pedal or lever
        held that none of them feels."""
        chosen = tuple(strings)
        for hold, opened in self._open.items():
            fret = round(midis[0] - opened[chosen[0]])
            if not 0 <= fret <= HIGHEST_FRET or any(felt.isdisjoint(chosen) for felt in self._felt[hold]):
                continue
            if all(abs(opened[s] + fret - m) * 100.0 <= FIT_CENTS for s, m in zip(chosen, midis, strict=True)):
                yield Position(chosen, Bar.straight(float(fret)), hold)
            frets = {s: float(round(m - opened[s])) for s, m in zip(chosen, midis, strict=True)} if self.slants else {}
            if frets and _lies_on_a_slant(frets) and _fits(midis, chosen, opened, frets):
                yield Position(chosen, Bar.slanted({s: frets[s] for s in (min(frets), max(frets))}), hold)

    def needs_all(self, position: Position) -> bool:
        """Whether letting go of any pedal or lever would change a pitch."""
        return all(not felt.isdisjoint(position.strings) for felt in self._felt[position.hold])

    def feels(self, position: Position, name: str) -> bool:
        """Whether letting go of one pedal or lever of a position would change a pitch."""
        felt = self._felt[position.hold][position.hold.names.index(name)]
        return not felt.isdisjoint(position.strings)

    def _feel(self, hold: Hold) -> tuple[frozenset[int], ...]:
        """For each pedal and lever of a hold, the strings that change when it alone is let go."""
        opened, copedent = self._open[hold], self.copedent
        felt = []
        for name in hold.names:
            less = {other: amount for other, amount in hold.levels if other != name}
            without = {s: copedent.open_midi(s) + copedent.shift(s, less) for s in self.strings}
            felt.append(frozenset(s for s in self.strings if abs(without[s] - opened[s]) > LEAST_FELT))
        return tuple(felt)

    def slanted_bars(self, strings: Sequence[int]) -> Iterator[Bar]:
        """Every slant that puts these strings on whole frets; none where slants are not thought of."""
        low, high = min(strings), max(strings)
        for fret in range(1, HIGHEST_FRET + 1 if self.slants and low < high else 1):
            for turn in range(-int(WIDEST_SLANT), int(WIDEST_SLANT) + 1):
                frets = {s: fret + turn * (s - low) / (high - low) for s in strings}
                if all(f.is_integer() for f in frets.values()) and _lies_on_a_slant(frets):
                    yield Bar.slanted({s: frets[s] for s in (low, high)})

    def _slanted(self, midis: Sequence[float], usable: Sequence[int]) -> Iterator[Position]:
        for hold, opened in self._open.items():
            for chosen in permutations(usable, len(midis)):
                frets = {s: float(round(m - opened[s])) for s, m in zip(chosen, midis, strict=True)}
                if _lies_on_a_slant(frets) and _fits(midis, chosen, opened, frets):
                    yield Position(chosen, Bar.slanted({s: frets[s] for s in (min(frets), max(frets))}), hold)


def _assigned(
    midis: Sequence[float], opened: Mapping[int, float], usable: Sequence[int], fret: int
) -> Iterator[tuple[int, ...]]:
    """Strings that give these pitches at a fret, each used once."""
    choices = [[s for s in usable if abs(opened[s] + fret - midi) * 100.0 <= FIT_CENTS] for midi in midis]
    if not all(choices):
        return
    taken: list[int] = []

    def further(index: int) -> Iterator[tuple[int, ...]]:
        if index == len(choices):
            yield tuple(taken)
            return
        for string in choices[index]:
            if string not in taken:
                taken.append(string)
                yield from further(index + 1)
                taken.pop()

    yield from further(0)


def _lies_on_a_slant(frets: Mapping[int, float]) -> bool:
    """Whether a bar that is not straight lies over these frets, and could be held so."""
    low, high = min(frets), max(frets)
    turn = frets[high] - frets[low]
    if turn == 0 or abs(turn) > WIDEST_SLANT or abs(turn) > STEEPEST_SLANT * (high - low):
        return False
    if min(frets.values()) < LOWEST_SLANTED_FRET or max(frets.values()) > HIGHEST_FRET:
        return False
    return all(frets[s] == frets[low] + turn * (s - low) / (high - low) for s in frets)


def _fits(
    midis: Sequence[float], chosen: Sequence[int], opened: Mapping[int, float], frets: Mapping[int, float]
) -> bool:
    return all(abs(opened[s] + frets[s] - m) * 100.0 <= FIT_CENTS for s, m in zip(chosen, midis, strict=True))
