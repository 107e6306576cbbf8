"""Names, numbers and frequencies of pitches.

Outside checks: the equal-tempered scale over A4 = 440 Hz (ISO 16) as commonly tabulated to two decimals, MIDI 1.0 note
numbers (69 is A4, 60 middle C; octaves named as in ISO 16's scientific pitch notation), and librosa as a second
implementation.
"""

from __future__ import annotations

import librosa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.lesson.pitch import hz_of, midi_of, name_of, parse_name

TABLE = [
    ("A0", 21, 27.50),
    ("C2", 36, 65.41),
    ("B2", 47, 123.47),
    ("E3", 52, 164.81),
    ("C4", 60, 261.63),
    ("E4", 64, 329.63),
    ("G#4", 68, 415.30),
    ("A4", 69, 440.00),
    ("A6", 93, 1760.00),
    ("C8", 108, 4186.01),
]


@pytest.mark.parametrize(("name", "number", "hz"), TABLE)
def test_published_table_of_equal_temperament(name: str, number: int, hz: float) -> None:
    assert parse_name(name) == number
    assert name_of(number) == name
    assert hz_of(number) == pytest.approx(hz, abs=0.005)
    assert midi_of(hz_of(number)) == pytest.approx(number, abs=1e-9)


@given(st.integers(0, 127))
def test_every_note_as_librosa_has_it(number: int) -> None:
    name = name_of(number)
    assert parse_name(name) == number == librosa.note_to_midi(name)
    assert hz_of(number) == pytest.approx(librosa.midi_to_hz(number))


@given(st.floats(20.0, 5000.0))
def test_frequency_to_number_as_librosa_has_it(hz: float) -> None:
    assert midi_of(hz) == pytest.approx(librosa.hz_to_midi(hz))


@pytest.mark.parametrize(
    ("name", "same"),
    [("Ab4", "G#4"), ("b4", "B4"), ("bb4", "A#4"), ("Cb5", "B4"), ("B#3", "C4"), ("F##3", "G3"), (" E4 ", "E4")],
)
def test_one_pitch_has_several_names(name: str, same: str) -> None:
    assert parse_name(name) == parse_name(same)


@pytest.mark.parametrize("name", ["", "H4", "E", "4", "E44", "E#b4", "E4x", "E-2", "G#9"])
def test_what_is_no_pitch(name: str) -> None:
    with pytest.raises(ValueError, match=r"pitch|MIDI notes"):
        parse_name(name)


@given(st.floats(0.0, 127.0))
def test_the_nearest_name_is_within_half_a_semitone(midi: float) -> None:
    assert abs(parse_name(name_of(midi)) - midi) <= 0.5
