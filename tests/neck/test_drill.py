"""Exercises: what sounds is what the theory says (music21), and hands and feet can do it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest
from music21 import chord, roman, scale

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Figure, Lesson, Step
from livecheck.lesson.reading import read_lesson
from livecheck.lesson.writing import lesson_text
from livecheck.neck.drill import (
    REACHES,
    Unplayable,
    grips_figures,
    inversions_figures,
    scale_figures,
    sixths_figures,
    thirds_figures,
)
from livecheck.neck.neck import Neck
from livecheck.neck.scale import Scale
from tests.neck.instruments import E9, LAP
from tests.neck.test_scale import TONICS

NECK = Neck(E9)
HOLDS = {frozenset(hold.names) for hold in NECK.holds}
Maker = Callable[[Neck, Scale, Sequence[int] | None], tuple[Figure, ...]]


def one_octave(neck: Neck, of: Scale, strings: Sequence[int] | None = None) -> tuple[Figure, ...]:
    return scale_figures(neck, of, 1, strings)


def sounds(step: Step, copedent: Copedent = E9) -> list[float]:
    return sorted(step.stance.midi(string, copedent) for string in step.pick)


def picks(figure: Figure) -> list[Step]:
    return [step for step in figure.steps if step.pick]


def their_tones(tonic: str, kind: str = "major") -> set[int]:
    known = {"major": scale.MajorScale, "minor": scale.MinorScale, "dorian": scale.DorianScale}
    return {pitch.pitchClass for pitch in known[kind](tonic.replace("b", "-")).pitches}


@pytest.mark.parametrize("make", [one_octave, thirds_figures, sixths_figures, grips_figures, inversions_figures])
@pytest.mark.parametrize("tonic", ["G", "Bb", "F#"])
def test_hands_and_feet_can_do_it_and_the_reader_takes_it(make: Maker, tonic: str) -> None:
    figures = make(NECK, Scale(tonic, "major"), None)
    lesson = Lesson("drill", 60.0, "4/4", E9, "e9-ten-string", figures)
    assert read_lesson(lesson_text(lesson), "drill.toml", lambda _: E9) == lesson
    for figure in figures:
        for step in figure.steps:
            assert frozenset(step.stance.down) in HOLDS
            assert REACHES[0][0] <= step.stance.bar.fret_at(1) <= REACHES[0][1]
        assert figure.length % 4 == 0
        assert figure.steps[-1].block is None, "silent at the end"


@pytest.mark.parametrize("tonic", TONICS)
@pytest.mark.parametrize("kind", ["major", "minor", "dorian"])
def test_a_scale(tonic: str, kind: str) -> None:
    (figure,) = one_octave(NECK, Scale(tonic, kind))
    midis = [midi for step in picks(figure) for midi in sounds(step)]
    up = midis[:8]
    assert midis == up + up[-2::-1]
    assert up == sorted(up)
    assert up[-1] - up[0] == 12.0
    assert {round(midi) % 12 for midi in midis} == their_tones(tonic, kind)
    assert round(up[0]) % 12 == scale.MajorScale(tonic.replace("b", "-")).tonic.pitchClass


def test_two_octaves_and_a_pentatonic() -> None:
    (figure,) = scale_figures(NECK, Scale("G", "major-pentatonic"), 2)
    midis = [midi for step in picks(figure) for midi in sounds(step)]
    assert len(midis) == 2 * 11 - 1
    assert max(midis) - min(midis) == 24.0
    assert {round(midi) % 12 for midi in midis} == {7, 9, 11, 2, 4}


@pytest.mark.parametrize(("make", "generic"), [(thirds_figures, 3), (sixths_figures, 6)])
@pytest.mark.parametrize("tonic", ["G", "Eb", "A"])
def test_thirds_and_sixths(make: Maker, generic: int, tonic: str) -> None:
    """Each pair is a tone of the scale and the tone a third, or a sixth, above it (music21's scale degrees)."""
    theirs = scale.MajorScale(tonic.replace("b", "-"))
    degree_of = {pitch.pitchClass: degree for degree, pitch in enumerate(theirs.pitches[:7], start=1)}
    (figure,) = make(NECK, Scale(tonic, "major"), None)
    found = [sounds(step) for step in picks(figure)]
    assert len(found) == 15
    for (low, high), degree in zip(found, [1, 2, 3, 4, 5, 6, 7, 1, 7, 6, 5, 4, 3, 2, 1], strict=True):
        assert degree_of[round(low) % 12] == degree
        assert (degree_of[round(high) % 12] - degree) % 7 + 1 == generic
        assert high - low in ((3.0, 4.0) if generic == 3 else (8.0, 9.0))
    assert len({step.pick for step in picks(figure)}) == 1, "on the same strings throughout"


@pytest.mark.parametrize("tonic", ["G", "Db", "E"])
def test_grips(tonic: str) -> None:
    """Triad by triad as the roman numerals of the key say (music21)."""
    (figure,) = grips_figures(NECK, Scale(tonic, "major"), None)
    steps = picks(figure)[:8]
    for step, numeral in zip(steps, ["I", "ii", "iii", "IV", "V", "vi", "viio", "I"], strict=True):
        theirs = roman.RomanNumeral(numeral, tonic.replace("b", "-"))
        assert {round(midi) % 12 for midi in sounds(step)} == set(theirs.pitchClasses)
        assert step.remark[: len(theirs.root().name)] == theirs.root().name.replace("-", "b")
    lowest = [sounds(step)[0] for step in steps]
    assert lowest == sorted(lowest)


@pytest.mark.parametrize(("tonic", "kind"), [("G", "major"), ("Ab", "major"), ("A", "harmonic-minor")])
def test_inversions(tonic: str, kind: str) -> None:
    figures = inversions_figures(NECK, Scale(tonic, kind), None)
    key = tonic.replace("b", "-") if kind == "major" else tonic.lower()
    numerals = ("I", "IV", "V") if kind == "major" else ("i", "iv", "V")
    words = {0: "root", 1: "third", 2: "fifth"}
    assert [figure.name.split(",")[0] for figure in figures] == ["I", "IV", "V"]
    for figure, numeral in zip(figures, numerals, strict=True):
        theirs = roman.RomanNumeral(numeral, key)
        found = [sounds(step) for step in picks(figure)]
        assert len(found) >= 3
        assert found == sorted(found)
        for step, midis in zip(picks(figure), found, strict=True):
            played = chord.Chord([round(midi) for midi in midis])
            assert set(played.pitchClasses) == set(theirs.pitchClasses)
            root, third, fifth = (p.pitchClass for p in (theirs.root(), theirs.third, theirs.fifth))
            at = (root, third, fifth).index(round(midis[0]) % 12)
            assert step.remark.endswith(f"{words[at]} lowest")
        assert {round(midis[0]) % 12 for midis in found} == set(theirs.pitchClasses), "every inversion is there"


def test_on_chosen_strings() -> None:
    for make, strings in ((thirds_figures, (3, 4)), (sixths_figures, (4, 6)), (inversions_figures, (4, 5, 6))):
        for figure in make(NECK, Scale("A", "major"), strings):
            assert {tuple(sorted(step.pick)) for step in picks(figure)} == {strings}


def test_the_grips_of_the_pedal_steel() -> None:
    """Nothing, A with the lever that raises E, A and B: three places of a major chord (common practice, no source)."""
    (first, *_) = inversions_figures(NECK, Scale("G", "major"), (4, 5, 6))
    places = [(step.stance.bar.fret_at(1), tuple(step.stance.down)) for step in picks(first)]
    assert places[:4] == [(3.0, ()), (6.0, ("A", "LKL")), (10.0, ("A", "B")), (15.0, ())]


def test_a_lap_steel_slants() -> None:
    """Thirds of C major on the two highest strings of C6, a major third apart: minor thirds want a slanted bar."""
    (figure,) = thirds_figures(Neck(LAP), Scale("C", "major"), (1, 2))
    for step in picks(figure):
        low, high = sounds(step, LAP)
        assert step.stance.bar.is_straight == (high - low == 4.0)
    assert {round(midi) % 12 for step in picks(figure) for midi in sounds(step, LAP)} == their_tones("C")


def test_what_cannot_be_played() -> None:
    with pytest.raises(Unplayable, match="G major in thirds"):
        thirds_figures(NECK, Scale("G", "major"), (1, 10))
    with pytest.raises(Unplayable, match="3 octaves of G major"):
        scale_figures(NECK, Scale("G", "major"), 3, (4,))
    with pytest.raises(Unplayable, match="G, C, D on the same three strings"):
        inversions_figures(NECK, Scale("G", "major"), (1, 2, 9))


def test_keys_of_double_sharps() -> None:
    """The fourth degree of C# lydian is F##, and the chord on it diminished."""
    scale_in_sharps = Scale("C#", "lydian")
    assert scale_in_sharps.chord_at(3) == "F##dim"
    _, fourth, _ = inversions_figures(NECK, scale_in_sharps)
    assert {round(midi) % 12 for step in picks(fourth) for midi in sounds(step)} == {7, 10, 1}
