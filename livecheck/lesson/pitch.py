"""Pitch names and numbers.

Convention: a pitch is a MIDI note number with decimals; 69.0 is A4, 440 Hz (ISO 16, MIDI 1.0).
"""

from __future__ import annotations

import math
import re

A4_MIDI = 69.0
A4_HZ = 440.0
NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ACCIDENTALS = {"": 0, "#": 1, "b": -1, "##": 2, "bb": -2}
_NAME = re.compile(r"([A-Ga-g])(##|bb|#|b)?(-?\d)")


def parse_name(name: str) -> float:
    """MIDI number of a name such as "G#4" or "Bb2". ValueError if it is no pitch name."""
    match = _NAME.fullmatch(name.strip())
    if match is None:
        raise ValueError(f'"{name}" is no pitch; wanted a note name and octave such as "G#4"')
    letter, accidental, octave = match.groups()
    number = _LETTERS[letter.upper()] + _ACCIDENTALS[accidental or ""] + 12 * (int(octave) + 1)
    if not 0 <= number <= 127:
        raise ValueError(f'"{name}" lies outside the MIDI notes 0 to 127 (C-1 to G9)')
    return float(number)


def name_of(midi: float) -> str:
    """The nearest equal-tempered pitch name, with sharps: 68.2 is "G#4"."""
    number = round(midi)
    return f"{NAMES[number % 12]}{number // 12 - 1}"


def hz_of(midi: float) -> float:
    """Frequency in Hz of a MIDI number."""
    return float(A4_HZ * 2.0 ** ((midi - A4_MIDI) / 12.0))


def midi_of(hz: float) -> float:
    """MIDI number of a frequency in Hz (above zero)."""
    return A4_MIDI + 12.0 * math.log2(hz / A4_HZ)
