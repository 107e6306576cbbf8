"""Chords against a library of music theory that is not ours (music21, its chord symbols and chord names)."""

from __future__ import annotations

from itertools import combinations

import pytest
from music21 import chord as theirs
from music21 import harmony

from livecheck.lesson.pitch import NAMES
from livecheck.neck.chord import FLAT_NAMES, chord_name, note_names, parse_chord, pitch_class_of, tone_name

KINDS = (
    "", "m", "7", "m7", "maj7", "6", "m6", "dim", "aug", "sus4", "sus2", "7sus4", "m7b5", "dim7", "mM7", "7b5", "add9",
    "9", "m9", "maj9", "7b9", "7#9", "11", "m11",
)  # fmt: skip


def as_theirs(name: str) -> str:
    """A root's flat is a minus sign there, a major ninth has a capital letter."""
    return (name[0] + name[1:2].replace("b", "-") + name[2:]).replace("maj9", "M9")


def their_tones(name: str) -> set[int]:
    return {pitch.pitchClass for pitch in harmony.ChordSymbol(as_theirs(name)).pitches}


@pytest.mark.parametrize("kind", KINDS)
def test_tones_of_every_kind_on_every_root(kind: str) -> None:
    for root in sorted({*NAMES, *FLAT_NAMES}):
        name = root + kind
        assert set(parse_chord(name).tones) == their_tones(name), name


@pytest.mark.parametrize(("name", "tones"), [("C6/9", "C E G A D"), ("C13", "C E G A# D A"), ("Cmadd9", "C D# G D")])
def test_tones_of_chords_that_the_library_spells_otherwise(name: str, tones: str) -> None:
    """Common practice, no source: a thirteenth goes without its eleventh, which rubs against the third."""
    assert set(parse_chord(name).tones) == {pitch_class_of(tone) for tone in tones.split()}


@pytest.mark.parametrize(
    ("one", "other"),
    [("Cmaj", "C"), ("CM7", "Cmaj7"), ("Cmin", "Cm"), ("C-7", "Cm7"), ("Co", "Cdim"), ("C+", "Caug"), ("Cø", "Cm7b5")],
)
def test_other_spellings(one: str, other: str) -> None:
    assert parse_chord(one).tones == parse_chord(other).tones


def test_the_bass() -> None:
    chord = parse_chord("C/E")
    assert (chord.bass, set(chord.tones)) == (4, their_tones("C/E"))
    assert set(parse_chord("C/D").tones) == {0, 2, 4, 7}
    assert parse_chord("C6/9").bass is None


@pytest.mark.parametrize("text", ["", "H", "C8", "Cm8", "C/", "C/H", "Cb b", "C5", "Q7", "C//E", "C4"])
def test_what_is_no_chord(text: str) -> None:
    with pytest.raises(ValueError, match="is no chord"):
        parse_chord(text)


def test_the_tones_that_matter_most() -> None:
    """Common practice, no source: the third and the seventh make the chord, the fifth goes first."""
    assert parse_chord("C7").needed(3) == {4, 10, 0}
    assert parse_chord("C9").needed(3) == {4, 10, 2}
    assert parse_chord("C7/G").needed(3) == {7, 4, 10}


OURS = {
    "major triad": "", "minor triad": "m", "diminished triad": "dim", "augmented triad": "aug",
    "dominant seventh chord": "7", "minor seventh chord": "m7", "major seventh chord": "maj7",
    "half-diminished seventh chord": "m7b5", "diminished seventh chord": "dim7",
}  # fmt: skip


def test_the_name_of_what_sounds() -> None:
    """All sets of three and four tones with C: where the library knows a triad or a seventh, so do we."""
    found = set()
    for above in (*combinations(range(61, 72), 2), *combinations(range(61, 72), 3)):
        tones = (60, *above)
        named = theirs.Chord(list(tones))
        if (kind := OURS.get(named.commonName)) is not None:
            found.add(kind)
            name = chord_name([float(tone) for tone in tones])
            assert name is not None
            assert set(parse_chord(name).tones) == {pitch.pitchClass for pitch in named.pitches}
            if kind not in ("aug", "dim7", "m7", "m7b5"):  # these have several roots or are sixth chords otherwise
                assert name == NAMES[named.root().pitchClass] + kind
    assert found == set(OURS.values())


def test_names_of_four_notes_and_of_the_same_notes_over_another_bass() -> None:
    assert chord_name([57.0, 60.0, 64.0, 67.0]) == "Am7"
    assert chord_name([60.0, 64.0, 67.0, 69.0]) == "C6"
    assert chord_name([58.0, 62.0, 68.0], flats=True) == "Bb7", "the fifth may be missing"
    assert chord_name([64.0, 69.0, 71.0]) == "Esus4"
    assert chord_name([60.0, 61.0, 62.0]) is None
    assert chord_name([60.0, 67.0]) is None


def test_names_of_notes() -> None:
    assert note_names([61.0, 58.98], flats=True) == "Db4 B3"
    assert note_names([61.0]) == "C#4"
    assert tone_name(10) == "A#"
    with pytest.raises(ValueError, match="no note"):
        pitch_class_of("Hb")
