"""MusicXML, read back by a library that is not ours (music21), and by the order of elements in its schema."""

from __future__ import annotations

import io
from fractions import Fraction
from itertools import pairwise
from random import Random
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import articulations, converter, expressions, meter, spanner, tempo

from livecheck.lesson.figure import Lesson
from livecheck.lesson.reading import read_lesson
from livecheck.lesson.sounding import sounding
from livecheck.sharing.musicxml import musicxml
from livecheck.sources.library import load_copedent
from tests.bench import lessons
from tests.fuzz import invented
from tests.lesson.test_sounding import WALTZ

E9 = load_copedent("e9-ten-string")
SLIDES = """
format = 1
title = "Slides & <pedals>"
tempo = 66
meter = "6/8"
copedent = "e9-ten-string"
[[figure]]
name = "up"
length = 7
steps = [
  { beat = 2, fret = 3, pick = [5], remark = "slow" },
  { beat = 3, fret = 8, over = 0.5 },
  { beat = "4 1/3", down = ["A"] },
  { beat = 6, down = { A = 0.5 } },
]
[[figure]]
name = "grip"
length = 6
steps = [{ beat = 1, fret = 5, pick = [8, 6, 5], roll = 0.25 }]
"""


def lesson(text: str) -> Lesson:
    return read_lesson(text, "lesson.toml", lambda _: E9)


def theirs(of: Lesson) -> Any:
    """The part as music21 reads it."""
    (part,) = converter.parseData(musicxml(of, of.figures).decode(), format="musicxml").parts
    return part


def asked(of: Lesson) -> list[tuple[Fraction, list[int], set[tuple[int, int]]]]:
    """Of each step at which something sounds: quarters from the start, pitches, (string, fret)."""
    beats, value = map(int, of.meter.split("/"))
    measure = Fraction(4 * beats, value)
    found, start = [], Fraction(0)
    for figure in of.figures:
        for step, sounds in zip(figure.steps, sounding(figure, of.copedent), strict=True):
            frets = {(s, round(step.stance.bar.fret_at(s))) for s in sounds.strings}
            if frets:
                pitches = sorted(round(midi) for midi in sounds.midis)
                found.append((start + (step.beat - 1) * Fraction(4, value), pitches, frets))
        start += -(-(figure.length * Fraction(4, value)) // measure) * measure
    return found


def told(part: Any) -> dict[Fraction, tuple[list[int], set[tuple[int, int]]]]:
    """Quarters from the start -> pitches, (string, fret)."""
    found = {}
    for sounding_here in part.flatten().notes:
        numbers = [a.number for a in sounding_here.articulations if isinstance(a, articulations.FretIndication)]
        strings = [a.number for a in sounding_here.articulations if isinstance(a, articulations.StringIndication)]
        pitches = sorted(round(pitch.ps) for pitch in sounding_here.pitches)
        found[Fraction(sounding_here.offset)] = pitches, set(zip(strings, numbers, strict=True))
    return found


@pytest.mark.parametrize("kind", ["double-stops", "grips", "lines", "strings"])
def test_pitches_strings_and_frets_when_they_are_asked(kind: str) -> None:
    of = lessons.parse(lessons.write(kind, 3), "lesson.toml")
    found = told(theirs(of))
    for at, pitches, frets in asked(of):
        assert found[at] == (pitches, frets)


def test_measures_are_full_and_marks_are_there() -> None:
    part = theirs(lesson(SLIDES))
    measures = list(part.getElementsByClass("Measure"))
    assert [m.duration.quarterLength for m in measures] == [3.0, 3.0, 3.0], "7 beats of an eighth take two measures"
    assert [mark.content for mark in part.recurse().getElementsByClass(expressions.RehearsalMark)] == ["up", "grip"]
    assert [str(t.ratioString) for t in part.recurse().getElementsByClass(meter.TimeSignature)] == ["6/8"]
    (mark,) = part.recurse().getElementsByClass(tempo.MetronomeMark)
    assert (mark.number, mark.referent.type) == (66, "eighth")
    words = [text.content for text in part.recurse().getElementsByClass(expressions.TextExpression)]
    assert words == ["slow", "A", "A 0.5"]


def test_a_slide_a_slur_and_a_tie() -> None:
    part = theirs(lesson(SLIDES))
    (slide,) = part.recurse().getElementsByClass(spanner.Glissando)
    assert [n.pitch.ps for n in slide.getSpannedElements()] == [62.0, 67.0]
    slurs = list(part.recurse().getElementsByClass(spanner.Slur))
    assert [[n.pitch.ps for n in slur.getSpannedElements()] for slur in slurs] == [[67.0, 69.0], [69.0, 68.0]]
    last = part.getElementsByClass("Measure")[1].notes
    assert [n.tie.type for n in last if n.tie] == ["stop"], "across the bar line"
    assert "<arpeggiate" in musicxml(lesson(SLIDES), lesson(SLIDES).figures).decode()


def test_a_harmonic_sounds_where_it_sounds() -> None:
    """Touched an octave above the bar, a string sounds an octave higher."""
    of = lesson(WALTZ)
    at_fourth = told(theirs(of))[Fraction(3)]
    assert at_fourth == ([67, 84], {(5, 8), (4, 8)})
    assert b"<artificial" in musicxml(of, of.figures)


def test_text_is_text() -> None:
    root = ET.parse(io.BytesIO(musicxml(lesson(SLIDES), lesson(SLIDES).figures))).getroot()
    assert root.findtext("work/work-title") == "Slides & <pedals>"
    assert root.findtext("part/measure/attributes/staff-details/staff-lines") == "10"
    bottom = root.find("part/measure/attributes/staff-details/staff-tuning")
    assert bottom is not None
    assert (bottom.findtext("tuning-step"), bottom.findtext("tuning-octave")) == ("B", "2")


ORDER = (
    "chord", "pitch", "rest", "duration", "tie", "voice", "type", "dot", "time-modification", "notations"
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32))
def test_any_lesson_is_written_as_the_schema_has_it(seed: int) -> None:
    """MusicXML 4.0: the order of what is in a note, and durations that fill each measure."""
    of = invented.lesson(Random(seed))
    root = ET.fromstring(musicxml(of, of.figures))
    divisions = int(root.findtext("part/measure/attributes/divisions") or 0)
    beats, value = map(int, of.meter.split("/"))
    for measure in root.iter("measure"):
        notes = measure.findall("note")
        lasted = sum(int(n.findtext("duration") or 0) for n in notes if n.find("chord") is None)
        assert lasted == divisions * Fraction(4 * beats, value)
        for written in notes:
            places = [ORDER.index(child.tag) for child in written]
            assert places == sorted(places)
            strings = [int(s.text or 0) for s in written.iter("string")]
            assert all(1 <= string <= len(of.copedent.strings) for string in strings)
    ties = [(tie.get("type"), written) for written in root.iter("note") for tie in written.findall("tie")]
    assert sum(kind == "start" for kind, _ in ties) == sum(kind == "stop" for kind, _ in ties)
    for kind in ("slide", "slur"):
        for string in range(1, len(of.copedent.strings) + 1):
            ends = [e.get("type", "") for e in root.iter(kind) if e.get("number") == str(string)]
            assert sorted(ends[::2] + ends[1::2]) == sorted(["start", "stop"] * (len(ends) // 2))
    assert all(int(a.get("number") or 0) < int(b.get("number") or 0) for a, b in pairwise(root.iter("measure")))
