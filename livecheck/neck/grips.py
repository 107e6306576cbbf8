"""What to play for a request: exact notes, or tones that any strings may have.

In: a request as it is typed ("C4 E4 A4", "C E A", "Am7") and a neck. Out: positions.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from livecheck.lesson.figure import Bar
from livecheck.lesson.pitch import parse_name
from livecheck.neck.chord import Chord, parse_chord, pitch_class_of
from livecheck.neck.neck import FIT_CENTS, HIGHEST_FRET, Neck
from livecheck.neck.position import Position

STRINGS_AT_ONCE = 3
"""Thumb and two fingers (common practice, no source)."""
MOST_AT_ONCE = 4
WIDEST_GRIP = 5
"""From the farthest to the nearest string of a grip, such as 5 and 10: a wider one is not reached with ease (common
practice, no source)."""


@dataclass(frozen=True)
class Request:
    """What is to sound: exact notes, or else a chord."""

    text: str
    midis: tuple[float, ...] = ()
    chord: Chord | None = None

    @property
    def has_flats(self) -> bool:
        """Whether who asked thinks in flats."""
        return re.search(r"\b[A-Ga-g]b", self.text) is not None

    @property
    def strings_asked(self) -> int:
        """How many strings it takes, if nobody says otherwise."""
        return len(self.midis) if self.chord is None else min(STRINGS_AT_ONCE, len(self.chord.tones))


def parse_request(text: str) -> Request:
    """A request as it is typed. ValueError says what is wrong with it."""
    words = text.replace(",", " ").split()
    written = " ".join(words)
    if len(words) == 1 and not _is_note(words[0]):
        return Request(written, chord=parse_chord(words[0]))
    if len(words) > 1 and not any(re.search(r"\d", word) for word in words):
        tones = tuple(dict.fromkeys(map(pitch_class_of, words)))
        return Request(written, chord=Chord(written, tones))
    if not words:
        raise ValueError("no note is given")
    return Request(written, midis=tuple(map(_note, words)))


def grips(neck: Neck, request: Request, count: int, strings: Sequence[int] | None = None) -> Iterator[Position]:
    """Every position for a request; of a chord on so many strings. `strings`: use no others."""
    if request.chord is None:
        yield from neck.positions(request.midis, strings)
        return
    usable = neck.strings if strings is None else tuple(strings)
    for hold in neck.holds:
        opened = {s: midi for s, midi in neck.open_midis(hold).items() if s in usable}
        tones = {s: round(midi) % 12 for s, midi in opened.items() if abs(midi - round(midi)) * 100.0 <= FIT_CENTS}
        for fret in range(HIGHEST_FRET + 1):
            having = [s for s, tone in tones.items() if (tone + fret) % 12 in request.chord.tones]
            for chosen in combinations(having, count):
                position = Position(chosen, Bar.straight(float(fret)), hold)
                if _is_right(request.chord, {s: opened[s] + fret for s in chosen}) and neck.needs_all(position):
                    yield position
        for chosen in combinations(usable, count):
            for bar in neck.slanted_bars(chosen):
                if _is_right(request.chord, {s: opened[s] + bar.fret_at(s) for s in chosen}):
                    yield Position(chosen, bar, hold)


def _is_right(chord: Chord, midis: Mapping[int, float]) -> bool:
    """Whether a grip has tones of the chord only, all that are needed, no note twice, the bass lowest."""
    if max(midis) - min(midis) > WIDEST_GRIP:
        return False
    notes = {round(midi) for midi in midis.values()}
    tones = {note % 12 for note in notes}
    return (
        len(notes) == len(midis)
        and chord.needed(len(midis)) <= tones <= set(chord.tones)
        and chord.bass in (None, min(notes) % 12)
        and all(abs(midi - round(midi)) * 100.0 <= FIT_CENTS for midi in midis.values())
    )


def _note(word: str) -> float:
    try:
        return parse_name(word)
    except ValueError:
        raise ValueError(f'"{word}" is no note') from None


def _is_note(word: str) -> bool:
    """Whether a word by itself is a note: C4 is one, C6 and C7 are chords."""
    try:
        parse_chord(word)
    except ValueError:
        return re.search(r"\d$", word) is not None
    return False
