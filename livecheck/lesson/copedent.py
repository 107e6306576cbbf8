"""The copedent: an instrument's strings, and what each pedal and knee lever does.

Strings are numbered from 1, the one farthest from the player. Pitches are MIDI numbers with decimals,
tempering included; changes are semitones, decimals allowed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from itertools import combinations


@dataclass(frozen=True)
class Copedent:
    """An instrument's set-up as values."""

    name: str
    strings: tuple[float, ...]
    """Open pitch of string 1, 2, …"""
    changes: Mapping[str, Mapping[int, float]] = field(default_factory=dict)
    """Pedal or lever -> string -> semitones."""
    pairs: Mapping[frozenset[str], Mapping[int, float]] = field(default_factory=dict)
    """Two pedals or levers together -> string -> semitones, where that is not what the rule gives."""
    drops: Mapping[str, float] = field(default_factory=dict)
    """Pedal or lever -> semitones by which the strings fall that it does not pull: the cabinet drop."""
    measured: date | None = None
    """The day on which an instrument was measured to be so; None where nobody measured."""

    def open_midi(self, string: int) -> float:
        return self.strings[string - 1]

    def shift(self, string: int, down: Mapping[str, float]) -> float:
        """Semitones by which the engaged changes move a string.

        `down` maps a pedal or lever to how far it is engaged, 0 to 1; that scales its change first. Of changes that
        pull the same way the largest counts (an all-pull changer); a raise and a lower together give their sum. The
        entry of a pair replaces the rule, in proportion to how far the less engaged of the two is down.
        """
        total = self._by_rule(string, down)
        for one, other in combinations(sorted(down), 2):
            entry = self.pairs.get(frozenset((one, other)), {})
            if string in entry:
                correction = entry[string] - self._by_rule(string, {one: 1.0, other: 1.0})
                total += correction * min(down[one], down[other])
        return total

    def drop(self, string: int, down: Mapping[str, float]) -> float:
        """Semitones by which a string falls because the engaged changes pull others. The drops of several add up."""
        return sum(self.drops.get(n, 0.0) * amount for n, amount in down.items() if not self.changes[n].get(string))

    def _by_rule(self, string: int, down: Mapping[str, float]) -> float:
        pulls = [self.changes[name].get(string, 0.0) * amount for name, amount in down.items()]
        return max([0.0, *pulls]) + min([0.0, *pulls])
