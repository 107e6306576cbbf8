"""Chords by name: from "F#maj7" to its tones, and from tones that sound to a name.

Convention: a pitch class is a number from 0 (C) to 11 (B). The tones of a chord stand in the order in which they make
it what it is: where there are fewer strings than tones, the last ones are left out, the fifth before the root (common
practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from livecheck.lesson.pitch import NAMES

FLAT_NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ROOT = r"([A-Ga-g])(##|bb|#|b|)"
_NAME = re.compile(rf"{_ROOT}([^/]*(?:/9)?)(?:/{_ROOT})?")

_KINDS: dict[str, tuple[int, ...]] = {
    "": (4, 0, 7),
    "m": (3, 0, 7),
    "7": (4, 10, 0, 7),
    "m7": (3, 10, 0, 7),
    "maj7": (4, 11, 0, 7),
    "6": (4, 9, 0, 7),
    "m6": (3, 9, 0, 7),
    "dim": (3, 6, 0),
    "aug": (4, 8, 0),
    "sus4": (5, 0, 7),
    "sus2": (2, 0, 7),
    "7sus4": (5, 10, 0, 7),
    "m7b5": (3, 6, 10, 0),
    "dim7": (3, 6, 9, 0),
    "m(maj7)": (3, 11, 0, 7),
    "7b5": (4, 10, 6, 0),
    "7#5": (4, 10, 8, 0),
    "add9": (4, 2, 0, 7),
    "madd9": (3, 2, 0, 7),
    "9": (4, 10, 2, 0, 7),
    "m9": (3, 10, 2, 0, 7),
    "maj9": (4, 11, 2, 0, 7),
    "7b9": (4, 10, 1, 0, 7),
    "7#9": (4, 10, 3, 0, 7),
    "6/9": (4, 9, 2, 0, 7),
    "11": (10, 5, 2, 4, 0, 7),
    "m11": (3, 10, 5, 2, 0, 7),
    "13": (4, 10, 9, 2, 0, 7),
}
"""Semitones above the root. There is no "5": C5 is a note, and two tones are no chord."""

_SPELLINGS = {
    "": ("", "maj", "M", "major"),
    "m": ("m", "min", "mi", "-", "minor"),
    "7": ("7", "dom7"),
    "m7": ("m7", "min7", "mi7", "-7"),
    "maj7": ("maj7", "M7", "ma7", "Maj7", "Δ", "Δ7"),
    "dim": ("dim", "o", "°"),
    "aug": ("aug", "+"),
    "sus4": ("sus4", "sus"),
    "7sus4": ("7sus4", "7sus"),
    "m7b5": ("m7b5", "min7b5", "-7b5", "ø", "ø7"),
    "dim7": ("dim7", "o7", "°7"),
    "m(maj7)": ("m(maj7)", "mmaj7", "mM7", "minmaj7"),
    "7#5": ("7#5", "+7", "aug7"),
    "m6": ("m6", "min6", "-6"),
    "m9": ("m9", "min9", "-9"),
    "maj9": ("maj9", "M9", "ma9", "Δ9"),
    "6/9": ("6/9", "69"),
    "m11": ("m11", "min11", "-11"),
}
_KIND_OF = {spelling: kind for kind in _KINDS for spelling in _SPELLINGS.get(kind, (kind,))}


@dataclass(frozen=True)
class Chord:
    name: str
    tones: tuple[int, ...]
    """Pitch classes, the more telling ones first."""
    bass: int | None = None
    """What the lowest note must be; None: anything."""

    def needed(self, count: int) -> frozenset[int]:
        """The tones that so many strings have to sound between them."""
        first = () if self.bass is None else (self.bass,)
        return frozenset([*first, *(tone for tone in self.tones if tone not in first)][:count])


def parse_chord(text: str) -> Chord:
    """The chord of a name such as "Am", "C7", "F#maj7", "Bb6/9", "C/E". ValueError if it is none."""
    match = _NAME.fullmatch(text.strip())
    if match is None or match[3] not in _KIND_OF:
        raise ValueError(f'"{text}" is no chord')
    letter, accidental, kind, bass_letter, bass_accidental = match.groups()
    root = _pitch_class(letter, accidental)
    bass = None if bass_letter is None else _pitch_class(bass_letter, bass_accidental)
    tones = tuple((root + semitones) % 12 for semitones in _KINDS[_KIND_OF[kind]])
    return Chord(text.strip(), tones if bass is None or bass in tones else (*tones, bass), bass)


def chord_name(midis: Iterable[float], flats: bool = False) -> str | None:
    """The name of notes that sound together; None where they have none.

    A chord whose root is lowest comes first, and one that is complete before one of four tones or more that lacks its
    fifth.
    """
    ordered = [round(midi) % 12 for midi in sorted(midis)]
    for lacking in (frozenset[int](), frozenset({7})):
        for root in dict.fromkeys(ordered):
            sounding = frozenset((tone - root) % 12 for tone in ordered)
            for kind, tones in _KINDS.items():
                if sounding == frozenset(tones) - lacking and len(sounding) >= 3:
                    return tone_name(root, flats) + kind
    return None


def pitch_class_of(name: str) -> int:
    """The number of a tone such as "F#" or "bb". ValueError if it is none."""
    match = re.fullmatch(_ROOT, name)
    if match is None:
        raise ValueError(f'"{name}" is no note')
    return _pitch_class(match[1], match[2])


def tone_name(pitch_class: int, flats: bool = False) -> str:
    return (FLAT_NAMES if flats else NAMES)[pitch_class]


def note_names(midis: Sequence[float], flats: bool = False) -> str:
    """C4 E4 A4: nearest equal-tempered names, with octaves."""
    return " ".join(f"{tone_name(round(midi) % 12, flats)}{round(midi) // 12 - 1}" for midi in midis)


def _pitch_class(letter: str, accidental: str) -> int:
    return (_LETTERS[letter.upper()] + accidental.count("#") - accidental.count("b")) % 12
