"""What a set of lessons has in common: the instrument, how many strings ring, how busy it is, how far hands reach."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from tests.bench.levels import LEVELS

CONSONANT = frozenset({3, 4, 5, 7, 8, 9, 12, 15, 16, 17, 19, 20, 21})
"""Semitones between strings that sound well together."""
LEAST_APART = 0.9
"""Semitones between any two ringing strings: no unisons."""
NEAR = (-5, -4, -3, -2, -2, -1, 1, 2, 2, 3, 4, 5)


@dataclass(frozen=True)
class Hands:
    """What is common to a set: the instrument, how many strings ring, how busy it is."""

    copedent: str
    voices: int
    pick_share: float
    """How often an event is a pick and no move."""
    gaps: tuple[Fraction, ...]
    feet: tuple[tuple[str, ...], ...]
    """Pedals and levers that can be held together; the empty tuple counts more often than it stands here."""
    slants: bool = False
    """Slanted bars, and strings pulled behind the bar."""
    frills: bool = False
    """Harmonics, swells, moves that overlap, a click to play to, a fixed pitch to be in tune with."""
    lowest_fret: int = 1
    groups: tuple[tuple[int, ...], ...] = field(default=())
    """String groups to choose from; empty: any that are consonant."""
    highest_fret: int = 17
    reach: tuple[int, ...] = NEAR
    """Frets by which the bar may move."""
    intervals: frozenset[int] = CONSONANT
    least_apart: float = LEAST_APART
    repeat_share: float = 0.0
    """How often a pick strikes the same strings again where they are."""
    swell_share: float = 0.0
    """How often a pick is faded in with the volume pedal."""


_HALF, _ONE, _ONE_HALF, _TWO = Fraction(1, 2), Fraction(1), Fraction(3, 2), Fraction(2)
_E9_FEET = (
    (), (), ("A",), ("B",), ("A", "B"), ("C",), ("B", "C"), ("LKL",), ("LKR",), ("LKV",), ("RKL",), ("RKR",),
    ("B", "LKR"), ("A", "LKL"), ("A", "B", "LKL"), ("B", "RKL"), ("A", "RKR"),
)  # fmt: skip
_E9_GRIPS = ((3, 4, 5), (4, 5, 6), (5, 6, 8), (6, 8, 10), (3, 5, 6), (4, 6, 8))
_LONG = (_ONE, _ONE, _ONE_HALF, _TWO)

_C6_FEET = ((), (), ("P4",), ("P5",), ("P6",), ("P7",), ("P5", "P6"), ("P6", "P7"))
_C6_GRIPS = ((2, 3, 4), (3, 4, 5), (4, 5, 6), (5, 6, 7), (3, 5, 6), (4, 6, 8))
_BARE = ((),)

SETS: Mapping[str, Hands] = {
    "double-stops": Hands("e9-ten-string", 2, 0.4, _LONG, _E9_FEET),
    "grips": Hands("e9-ten-string", 3, 0.4, _LONG, _E9_FEET, groups=_E9_GRIPS),
    "strings": Hands("e9-ten-string", 1, 0.2, _LONG, _E9_FEET),
    "lines": Hands("e9-ten-string", 1, 0.85, (_HALF, _HALF, _ONE, _ONE), _E9_FEET),
    "c6-grips": Hands("c6-ten-string", 3, 0.4, _LONG, _C6_FEET, groups=_C6_GRIPS),
    "just-grips": Hands("e9-ten-string-just", 3, 0.4, _LONG, _E9_FEET, groups=_E9_GRIPS),
    "lap-pairs": Hands("lap-steel-six-c6", 2, 0.4, _LONG, _BARE, slants=True),
    "resonator": Hands("open-g", 1, 0.65, (_HALF, _ONE, _ONE, _ONE_HALF), _BARE, lowest_fret=0),
    "frills": Hands("e9-ten-string", 2, 0.35, _LONG, _E9_FEET, frills=True),
}

_PLAIN = SETS["double-stops"]
_BUSY = (_HALF, _HALF, _ONE, _ONE)
_SEMITONES = ((), ("B",), ("LKL",), ("LKR",), ("LKV",), ("B", "LKR"))
_E9_FOURS = ((3, 4, 5, 6), (4, 5, 6, 8), (5, 6, 8, 10), (3, 4, 6, 8), (3, 5, 6, 8))
_UNISON_FEET = ((), ("RKL",), ("A", "RKR"), ("RKR",), ("LKR",), ("B",))

HARD: Mapping[str, tuple[Hands, Hands, Hands]] = {
    "swells": (
        replace(_PLAIN, swell_share=0.3), replace(_PLAIN, swell_share=0.6), replace(_PLAIN, swell_share=1.0),
    ),
    "repeated": (
        Hands("e9-ten-string", 1, 0.9, (_ONE,), _E9_FEET, repeat_share=0.6),
        Hands("e9-ten-string", 2, 0.8, (_HALF, _ONE), _E9_FEET, repeat_share=0.7),
        Hands("e9-ten-string", 3, 0.9, (_HALF,), _E9_FEET, groups=_E9_GRIPS, repeat_share=0.8),
    ),
    "fours": (
        Hands("e9-ten-string", 4, 0.5, (_TWO,), _E9_FEET, groups=_E9_FOURS),
        Hands("e9-ten-string", 4, 0.4, _LONG, _E9_FEET, groups=_E9_FOURS),
        Hands("c6-ten-string", 4, 0.4, (_HALF, _ONE), _C6_FEET, groups=((3, 4, 5, 6), (4, 5, 6, 7), (5, 6, 7, 8))),
    ),
    "doubled": (
        Hands(
            "e9-ten-string", 2, 0.5, _LONG, _E9_FEET, groups=((4, 8), (3, 6), (1, 7), (5, 10)),
            intervals=frozenset({12}),
        ),
        Hands("e9-ten-string", 2, 0.5, _LONG, _E9_FEET, intervals=frozenset({0, 12, 19}), least_apart=0.0),
        Hands(
            "e9-ten-string", 2, 0.5, _LONG, _UNISON_FEET, groups=((6, 7), (2, 5)), intervals=frozenset({0}),
            least_apart=0.0,
        ),
    ),
    "small-moves": (
        replace(_PLAIN, pick_share=0.3, reach=(-2, 2), feet=((), ("A",), ("B",), ("A", "B"))),
        replace(_PLAIN, pick_share=0.3, reach=(-1, 1), feet=_SEMITONES),
        replace(_PLAIN, pick_share=0.3, voices=3, groups=_E9_GRIPS, reach=(-1, 1), feet=_SEMITONES, gaps=_BUSY),
    ),
    "long-moves": (
        replace(_PLAIN, pick_share=0.3, reach=(-7, -6, 6, 7)),
        replace(_PLAIN, pick_share=0.3, reach=(-12, -10, -9, 9, 10, 12)),
        replace(_PLAIN, pick_share=0.3, voices=3, groups=_E9_GRIPS, reach=(-12, -11, 11, 12), gaps=(_ONE,)),
    ),
    "low": (
        Hands("e9-ten-string", 1, 0.6, _LONG, _E9_FEET, groups=((8,), (9,), (10,)), highest_fret=7),
        Hands(
            "c6-ten-string", 1, 0.6, _LONG, (*_C6_FEET, ("P8",)), groups=((8,), (9,), (10,)), lowest_fret=0,
            highest_fret=5,
        ),
        Hands(
            "c6-ten-string", 2, 0.6, _LONG, (*_C6_FEET, ("P8",)), groups=((10, 7), (9, 6), (8, 6), (10, 6), (9, 7)),
            lowest_fret=0, highest_fret=4, intervals=CONSONANT | {6, 10, 24},
        ),
    ),
    "high": (
        replace(_PLAIN, groups=((3, 4), (3, 5), (4, 5), (1, 3)), lowest_fret=10, highest_fret=17),
        replace(_PLAIN, groups=((3, 4), (3, 5), (4, 5), (1, 3)), lowest_fret=15, highest_fret=24),
        replace(
            _PLAIN, voices=3, groups=((3, 4, 5), (1, 3, 4), (1, 3, 5)), lowest_fret=18, highest_fret=24,
            intervals=CONSONANT | {2},
        ),
    ),
}  # fmt: skip
"""Sets that are hard by what is written, from mild to harsh."""


def hands_of(name: str) -> Hands:
    """The hands of a set, such as `grips` or `fours:middle`."""
    kind, _, level = name.partition(":")
    return HARD[kind][LEVELS.index(level)] if level else SETS[name]


def branch_of(name: str) -> int:
    """A number of its own for each set, for the random numbers of its lessons."""
    kind, _, level = name.partition(":")
    if level:
        return 100 + len(LEVELS) * list(HARD).index(kind) + LEVELS.index(level)
    return list(SETS).index(name)
