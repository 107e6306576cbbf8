"""Scales against a library of music theory that is not ours (music21): every tone by name, every triad by quality."""

from __future__ import annotations

import pytest
from music21 import chord, pitch, scale

from livecheck.neck.chord import parse_chord, pitch_class_of
from livecheck.neck.scale import SCALES, Scale

THEIRS = {
    "major": scale.MajorScale,
    "minor": scale.MinorScale,
    "harmonic-minor": scale.HarmonicMinorScale,
    "dorian": scale.DorianScale,
    "phrygian": scale.PhrygianScale,
    "lydian": scale.LydianScale,
    "mixolydian": scale.MixolydianScale,
}
TONICS = ("C", "G", "D", "A", "E", "B", "F#", "F", "Bb", "Eb", "Ab", "Db")
QUALITIES = {"major": "", "minor": "m", "diminished": "dim", "augmented": "aug"}


def their_pitches(kind: str, tonic: str) -> list[pitch.Pitch]:
    named = tonic.replace("b", "-")
    return list(THEIRS[kind](named).getPitches(named + "4")[:7])


@pytest.mark.parametrize("kind", sorted(THEIRS))
@pytest.mark.parametrize("tonic", TONICS)
def test_tones_and_their_names(kind: str, tonic: str) -> None:
    ours = Scale(tonic, kind)
    theirs = their_pitches(kind, tonic)
    assert [ours.tone_name(degree) for degree in range(7)] == [p.name.replace("-", "b") for p in theirs]
    assert [ours.above(degree) for degree in range(7)] == [round(p.ps - theirs[0].ps) for p in theirs]


@pytest.mark.parametrize("kind", sorted(THEIRS))
def test_triads(kind: str) -> None:
    ours = Scale("D", kind)
    theirs = their_pitches(kind, "D")
    for degree in range(7):
        triad = chord.Chord([theirs[(degree + third) % 7] for third in (0, 2, 4)])
        assert ours.chord_at(degree) == triad.root().name.replace("-", "b") + QUALITIES[triad.quality]
        assert set(parse_chord(ours.chord_at(degree)).tones) == {p.pitchClass for p in triad.pitches}


def test_the_other_minor_and_the_pentatonics() -> None:
    """Music21's melodic minor differs by direction and it has no pentatonic scales of these names: common knowledge."""
    assert [Scale("A", "melodic-minor").tone_name(d) for d in range(7)] == ["A", "B", "C", "D", "E", "F#", "G#"]
    assert [Scale("G", "major-pentatonic").tone_name(d) for d in range(6)] == ["G", "A", "B", "D", "E", "G"]
    assert [Scale("A", "minor-pentatonic").tone_name(d) for d in range(5)] == ["A", "C", "D", "E", "G"]
    assert not Scale("A", "minor-pentatonic").has_chords


def test_beyond_the_octave() -> None:
    ours = Scale("Bb", "major")
    assert [ours.above(degree) for degree in (7, 9, 14)] == [12, 16, 24]
    assert ours.name == "Bb major"
    assert Scale("A", "harmonic-minor").name == "A harmonic minor"


@pytest.mark.parametrize("kind", sorted(SCALES))
def test_every_tone_is_where_its_name_is(kind: str) -> None:
    for tonic in TONICS:
        ours = Scale(tonic, kind)
        for degree in range(8):
            assert pitch_class_of(ours.tone_name(degree)) == (pitch_class_of(tonic) + ours.above(degree)) % 12
