"""Which pedals and levers can be held at once: in a copedent's changes, out the combinations that a player can hold.

A copedent names its changes as its owner likes, so the name says which limb works them only where it follows the
trade's habit (common practice, no source):

- `A`, `B`, `C`, `1`, `P1`, `P`, `pedal 4`: a floor pedal, counted from the left, A being the first. One foot works
  them all, the other one has the volume pedal; it presses one, or two that lie side by side.
- `LKL`, `LKV`, `LKR`, `RKL`, `RKV`, `RKR`, without the K or with a number behind: a lever of the left or right knee,
  pushed left, up or right. A knee pushes one lever at a time.
- Any other name: nobody can tell, so it is held alone or with pedals, as most levers can, and never with another lever.

A pair that the copedent itself has an entry for ("A+LKV") is one that its owner holds, whatever the names say.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import combinations

from livecheck.lesson.copedent import Copedent

MOST_AT_ONCE = 3
"""One foot on two pedals and one knee, or a pedal and both knees: more is not held steadily (common practice, no
source)."""
PEDAL_EFFORT, LEVER_EFFORT = 0.02, 0.05
"""So little that they only decide between equal movements: for less that is held, and for pedals (common practice, no
source)."""
BOTH_KNEES_EFFORT = 1.0
"""Less often done than anything else that can be (common practice, no source)."""
OPPOSED_EFFORT = 0.5
"""A raise and a lower of one string are in tune together only where that was seen to (common practice, no source)."""
HALF_EFFORT = 0.5
"""A half-pedal is hard to place (common practice, no source)."""
FOOT, KNEES = "foot", frozenset({"L knee", "R knee"})
_PEDAL = re.compile(r"(?:pedal|ped|fp|p)?[ .-]?(\d{1,2})|([abc])|(p)", re.IGNORECASE)
_LEVER = re.compile(r"([lr])k?[ .-]?[lrv]\d?", re.IGNORECASE)


@dataclass(frozen=True)
class Hold:
    """Pedals and levers that are held, with how far each is engaged, in the copedent's order."""

    levels: tuple[tuple[str, float], ...] = ()

    @classmethod
    def full(cls, *names: str) -> Hold:
        return cls(tuple((name, 1.0) for name in names))

    @property
    def down(self) -> dict[str, float]:
        """As a `Stance` has it."""
        return dict(self.levels)

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(name for name, _ in self.levels)

    @cache  # noqa: B019 - holds are few and live as long as the program
    def changed(self, other: Hold) -> int:
        """How many pedals and levers are pressed, released or held elsewhere in the other."""
        return len({name for name, _ in set(self.levels) ^ set(other.levels)})


NOTHING_HELD = Hold()


@dataclass(frozen=True)
class Limb:
    """What works a change: a foot that stands on numbered pedals, one knee, or nobody knows what."""

    kind: str
    pedal: int = 0


def holds(copedent: Copedent, halves: bool = False) -> tuple[Hold, ...]:
    """Every combination that can be held, nothing held first, fewer before more.

    `halves` adds each single pedal or lever half-way, where half of it is a semitone or more.
    """
    limbs = {name: limb_of(name) for name in copedent.changes}
    found = [NOTHING_HELD]
    for count in range(1, MOST_AT_ONCE + 1):
        found += [Hold.full(*names) for names in combinations(limbs, count) if _can_hold(names, limbs, copedent)]
    if halves:
        found += [Hold(((name, 0.5),)) for name in _halved(copedent)]
    return tuple(found)


@cache
def limb_of(name: str) -> Limb:
    """The limb that a change's name tells."""
    if (pedal := _PEDAL.fullmatch(name.strip())) is not None:
        number, letter, _ = pedal.groups()
        return Limb(FOOT, int(number) if number else ord(letter.upper()) - ord("A") + 1 if letter else 1)
    if (lever := _LEVER.fullmatch(name.strip())) is not None:
        return Limb(f"{lever[1].upper()} knee")
    return Limb("some lever")


def effort_frets(hold: Hold, copedent: Copedent) -> float:
    """What holding it costs, in frets of bar travel."""
    limbs = [limb_of(name) for name in hold.names]
    effort = sum(PEDAL_EFFORT if limb.kind == FOOT else LEVER_EFFORT for limb in limbs)
    effort += HALF_EFFORT * sum(amount < 1.0 for _, amount in hold.levels)
    effort += BOTH_KNEES_EFFORT * (len({limb.kind for limb in limbs} & KNEES) == 2)
    return effort + OPPOSED_EFFORT * any(_opposed(pair, copedent) for pair in combinations(hold.names, 2))


def _opposed(pair: tuple[str, str], copedent: Copedent) -> bool:
    """Whether two changes pull some string both ways, and the copedent does not say what comes of it."""
    one, other = (copedent.changes[name] for name in pair)
    return frozenset(pair) not in copedent.pairs and any(one[s] * other[s] < 0.0 for s in one.keys() & other.keys())


def _can_hold(names: tuple[str, ...], limbs: dict[str, Limb], copedent: Copedent) -> bool:
    together = all(
        frozenset(pair) in copedent.pairs or _go_together(limbs[pair[0]], limbs[pair[1]])
        for pair in combinations(names, 2)
    )
    return together and sum(limbs[name].kind == FOOT for name in names) <= 2


def _go_together(one: Limb, other: Limb) -> bool:
    if one.kind == other.kind:
        return one.kind == FOOT and abs(one.pedal - other.pedal) == 1
    return FOOT in (one.kind, other.kind) or "some lever" not in (one.kind, other.kind)


def _halved(copedent: Copedent) -> Iterator[str]:
    for name, pulls in copedent.changes.items():
        if any(abs(semitones) >= 1.5 for semitones in pulls.values()):
            yield name
