"""Exercises as figures: scales, scales in thirds, sixths and grips, the inversions of I, IV and V.

In: a neck, a scale, the strings to use. Out: figures that hands and feet can play. Where no strings are given, those
are taken on which it takes the least movement. The way down is the way up again, as it takes no more movement.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import combinations
from typing import TypeVar

from livecheck.lesson.figure import Figure, Step
from livecheck.lesson.reading import DEFAULT_OVER
from livecheck.neck.chord import parse_chord
from livecheck.neck.grips import WIDEST_GRIP, Request, grips
from livecheck.neck.neck import HIGHEST_FRET, Neck
from livecheck.neck.path import Way, least_path
from livecheck.neck.position import Position
from livecheck.neck.reach import effort_frets
from livecheck.neck.scale import Scale

REACHES = ((1, 19), (0, HIGHEST_FRET))
"""Lowest and highest fret: under the bar throughout, and not so far up that it is no place to learn (common practice,
no source); where that leaves no way, the whole neck."""
BAR_BEATS = 4
DEGREES = {"I": 0, "IV": 3, "V": 4}
THIRDS, SIXTHS = (0, 2), (0, 5)
TRIADS = ((0, 2, 4), (2, 4, 7), (4, 7, 9))
"""Degrees above the degree that is harmonised: a triad and its inversions, the lowest note first."""

OCTAVE_OF_INVERSIONS = 4
HARD_EFFORT = 0.5
"""Both knees at once, or a string pulled both ways."""
WIDEST_RAISE = 12
"""Semitones by which a change can move a string at most."""

Item = TypeVar("Item")
Reach = tuple[int, int]
Strings = Sequence[int]
Climbs = Mapping[str, Mapping[frozenset[int], Sequence[Position]]]
"""Chord -> strings -> its places on them, from low to high."""


class Unplayable(Exception):
    """There is no way to play it on this instrument; the message says what."""


def scale_figures(neck: Neck, scale: Scale, octaves: int, strings: Strings | None = None) -> tuple[Figure, ...]:
    """The scale up and down, a note a beat."""
    degrees = range(octaves * len(scale.tones) + 1)

    def ways(reach: Reach) -> Iterator[Way | None]:
        for tonic in _tonics(neck, scale):
            midis = [float(tonic + scale.above(degree)) for degree in degrees]
            yield least_path(neck, [_within(reach, neck.positions([midi], strings)) for midi in midis])

    names = " ".join(scale.tone_name(degree) for degree in range(len(scale.tones) + 1))
    up = _cheapest(ways, f"{octaves} octave{'' if octaves == 1 else 's'} of {scale.name}")
    return (_figure("up and down", _there_and_back(up), Fraction(1), [names]),)


def thirds_figures(neck: Neck, scale: Scale, strings: Strings | None = None) -> tuple[Figure, ...]:
    """The scale in thirds, up and down."""
    return (_harmonised(neck, scale, [THIRDS], strings, "thirds"),)


def sixths_figures(neck: Neck, scale: Scale, strings: Strings | None = None) -> tuple[Figure, ...]:
    """The scale in sixths, up and down."""
    return (_harmonised(neck, scale, [SIXTHS], strings, "sixths"),)


def grips_figures(neck: Neck, scale: Scale, strings: Strings | None = None) -> tuple[Figure, ...]:
    """The triads of the scale, up and down."""
    return (_harmonised(neck, scale, TRIADS, strings, "grips"),)


def inversions_figures(neck: Neck, scale: Scale, strings: Strings | None = None) -> tuple[Figure, ...]:
    """I, IV and V, each through its inversions up the neck on the same strings."""
    chords = {numeral: scale.chord_at(degree) for numeral, degree in DEGREES.items()}
    for reach in REACHES:
        climbs = {numeral: _climbs(neck, name, reach, strings) for numeral, name in chords.items()}
        shared = set.intersection(*(set(by_strings) for by_strings in climbs.values()))
        if shared:
            break
    else:
        raise Unplayable(f"{', '.join(chords.values())} on the same three strings")
    chosen = min(shared, key=lambda on: (-_full(climbs, on), _effort(neck, climbs, on), sorted(on)))
    return tuple(
        _figure(
            f"{numeral}, {name}",
            climbs[numeral][chosen],
            Fraction(2),
            _inversion_names(neck, name, climbs[numeral][chosen]),
        )
        for numeral, name in chords.items()
    )


def _tonics(neck: Neck, scale: Scale) -> Iterator[int]:
    """Every pitch of the instrument that has the tonic's name."""
    lowest, highest = round(min(neck.copedent.strings)), round(max(neck.copedent.strings)) + HIGHEST_FRET
    return (midi for midi in range(lowest, highest + 1) if midi % 12 == scale.pitch_class)


def _within(reach: Reach, positions: Iterable[Position]) -> list[Position]:
    lowest, highest = reach
    return [p for p in positions if min(p.ends) >= lowest and max(p.ends) <= highest]


def _cheapest(ways: Callable[[Reach], Iterable[Way | None]], what: str) -> tuple[Position, ...]:
    for reach in REACHES:
        known = [way for way in ways(reach) if way is not None]
        if known:
            return min(known, key=lambda way: way[0])[1]
    raise Unplayable(what)


def _there_and_back(items: Sequence[Item]) -> list[Item]:
    return [*items, *items[-2::-1]]


def _harmonised(
    neck: Neck, scale: Scale, voicings: Sequence[Sequence[int]], strings: Strings | None, what: str
) -> Figure:
    degrees = range(len(scale.tones) + 1)

    def ways(reach: Reach) -> Iterator[Way | None]:
        for voicing in voicings:
            for tonic in _tonics(neck, scale):
                chords = [[float(tonic + scale.above(degree + v)) for v in voicing] for degree in degrees]
                for on in _sets(neck, len(voicing), strings):
                    yield _path(neck, chords, on, reach)

    up = _cheapest(ways, f"{scale.name} in {what}")
    if len(voicings) > 1:
        remarks = _there_and_back([scale.chord_at(degree) for degree in degrees])
    else:
        pairs = ("-".join(scale.tone_name(degree + v) for v in voicings[0]) for degree in degrees)
        remarks = [" ".join(pairs)]
    return _figure("up and down", _there_and_back(up), Fraction(2), remarks)


def _sets(neck: Neck, count: int, strings: Strings | None) -> Iterator[tuple[int, ...]]:
    """Sets of strings, the lowest string of each first."""
    for on in combinations(neck.strings if strings is None else sorted(strings), count):
        if strings is not None or max(on) - min(on) <= WIDEST_GRIP:
            yield tuple(sorted(on, key=neck.copedent.open_midi))


def _path(neck: Neck, chords: Sequence[Sequence[float]], on: Strings, reach: Reach) -> Way | None:
    """The way on just these strings, the notes of each chord in their order; None as soon as one is not there."""
    if not -WIDEST_RAISE <= chords[0][0] - neck.copedent.open_midi(on[0]) <= HIGHEST_FRET + WIDEST_RAISE:
        return None
    steps: list[list[Position]] = []
    for midis in chords:
        steps.append(_within(reach, neck.on_strings(midis, on)))
        if not steps[-1]:
            return None
    return least_path(neck, steps)


def _climbs(neck: Neck, name: str, reach: Reach, strings: Strings | None) -> dict[frozenset[int], list[Position]]:
    """Strings -> the places of a chord on them, from low to high; of several for the same notes the easiest. What is
    hard to hold is none."""
    by_notes: dict[tuple[frozenset[int], tuple[float, ...]], Position] = {}
    for position in _within(reach, grips(neck, Request(name, chord=parse_chord(name)), 3, strings)):
        if effort_frets(position.hold, neck.copedent) >= HARD_EFFORT:
            continue
        notes = frozenset(position.strings), tuple(sorted(neck.midis(position)))
        if notes not in by_notes or neck.effort(position) < neck.effort(by_notes[notes]):
            by_notes[notes] = position
    climbs: dict[frozenset[int], list[Position]] = {}
    for (on, _), position in sorted(by_notes.items(), key=lambda entry: entry[0][1]):
        climbs.setdefault(on, []).append(position)
    return climbs


def _full(climbs: Climbs, on: frozenset[int]) -> int:
    """How many places each chord has at least; beyond an octave more of them are no better."""
    return min(OCTAVE_OF_INVERSIONS, *(len(by_strings[on]) for by_strings in climbs.values()))


def _effort(neck: Neck, climbs: Climbs, on: frozenset[int]) -> float:
    """On average over all places."""
    efforts = [neck.effort(position) for by_strings in climbs.values() for position in by_strings[on]]
    return sum(efforts) / len(efforts)


def _inversion_names(neck: Neck, name: str, positions: Sequence[Position]) -> list[str]:
    third, root, _ = parse_chord(name).tones
    words = {root: "root", third: "third"}
    lowest = (round(min(neck.midis(position))) % 12 for position in positions)
    return [f"{name}, {words.get(tone, 'fifth')} lowest" for tone in lowest]


def _figure(name: str, positions: Sequence[Position], gap: Fraction, remarks: Sequence[str]) -> Figure:
    """A pick for each position, the nearest string first, and silence at the end of the last bar's third beat."""
    steps: list[Step] = []
    for index, position in enumerate(positions):
        before = positions[index - 1] if index else position
        steps.append(
            Step(
                number=index + 1, beat=1 + index * gap, stance=position.stance, over=DEFAULT_OVER,
                moves_bar=before.bar != position.bar, moves_changes=before.hold != position.hold,
                pick=tuple(sorted(position.strings, reverse=True)),
                remark=remarks[index] if index < len(remarks) else "",
            )
        )  # fmt: skip
    length = Fraction(-(-(len(positions) * gap + 1) // BAR_BEATS) * BAR_BEATS)
    last = steps[-1]
    steps.append(Step(last.number + 1, length, last.stance, DEFAULT_OVER, block=None))
    return Figure(name, length, tuple(steps))
