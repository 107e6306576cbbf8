"""A lesson as MusicXML 4.0 (W3C Community Group Report, 2021): notes, strings, frets, slides.

In: a lesson and the figures of it to write. Out: the bytes of a score-partwise document with one part, whose staff has
a line a string, tuned as the copedent is. Each figure begins a measure and is named by a rehearsal mark. What sounds
between two steps is one chord; a string that rings on is tied, one that the bar takes elsewhere has a slide, one that
pedals or levers do a slur. The pedals and levers that are down stand above as words, and so do remarks. Pitches are the
nearest semitones, or quarter-tones where that is nearer.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree import ElementTree as ET
from xml.etree.ElementTree import Element, SubElement

import livecheck
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import HARMONIC_SEMITONES
from livecheck.lesson.figure import Figure, Lesson, Step
from livecheck.lesson.pitch import NAMES
from livecheck.lesson.sounding import Sounding, sounding
from livecheck.sharing.note_values import NoteValue, note_values

DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
QUARTER_TONE = 0.5
_LEAST_MOVED = 0.01
"""Semitones: what moves less is tied."""


@dataclass(frozen=True)
class _Note:
    """One string in one chord."""

    string: int
    fret: int
    midi: float
    harmonic: bool
    comes_by: str | None
    """How it goes on from the chord before: tied, slide or slur; None where it is picked."""
    goes_by: str | None = None


@dataclass(frozen=True)
class _Chord:
    """What sounds from one step to the next; no notes are a rest. Quarters from the figure's start."""

    begin: Fraction
    end: Fraction
    notes: tuple[_Note, ...] = ()
    step: Step | None = None
    words: tuple[str, ...] = ()


@dataclass
class _Measures:
    """The part as it grows."""

    part: Element
    divisions: int
    quarters: Fraction
    """Of one measure."""
    number: int = 0
    held: Mapping[str, float] = field(default_factory=dict)


def musicxml(lesson: Lesson, figures: Sequence[Figure]) -> bytes:
    """The document, UTF-8."""
    root = Element("score-partwise", version="4.0")
    SubElement(SubElement(root, "work"), "work-title").text = _told(lesson.title)
    encoding = SubElement(SubElement(root, "identification"), "encoding")
    SubElement(encoding, "software").text = f"livecheck {livecheck.__version__}"
    part = SubElement(SubElement(root, "part-list"), "score-part", id="P1")
    SubElement(part, "part-name").text = "Steel guitar"
    beats, value = (int(number) for number in lesson.meter.split("/"))
    quarters_a_beat = Fraction(4, value)
    chords = {figure.name: _chords(figure, lesson.copedent, quarters_a_beat) for figure in figures}
    borders = [border for found in chords.values() for chord in found for border in (chord.begin, chord.end)]
    divisions = math.lcm(*(border.denominator for border in [*borders, quarters_a_beat, Fraction(1, 64)]), 3)
    measures = _Measures(SubElement(root, "part", id="P1"), divisions, beats * quarters_a_beat)
    for index, figure in enumerate(figures):
        _write_figure(measures, figure, chords[figure.name], lesson, first=index == 0, last=index == len(figures) - 1)
    ET.indent(root)
    return f"{DOCTYPE}{ET.tostring(root, encoding='unicode')}\n".encode()


def _chords(figure: Figure, copedent: Copedent, quarters_a_beat: Fraction) -> list[_Chord]:
    begins = [(step.beat - 1) * quarters_a_beat for step in figure.steps]
    ends = [*begins[1:], figure.length * quarters_a_beat]
    chords = [_Chord(Fraction(0), begins[0])] if begins[0] > 0 else []
    sounds = sounding(figure, copedent)
    after: list[Sounding | None] = [*sounds[1:], None]
    before: Step | None = None
    for step, begin, end, here, following in zip(figure.steps, begins, ends, sounds, after, strict=True):
        previous = sounds[step.number - 2] if before else None
        after_step = figure.steps[step.number] if following else None
        notes = tuple(
            _Note(
                string, round(step.stance.bar.fret_at(string)), _raised(here, at), here.harmonics[at] is not None,
                _way(previous, before, here, step, at), _goes(here, step, following, after_step, at),
            )
            for at, string in enumerate(here.strings)
        )  # fmt: skip
        chords.append(_Chord(begin, end, notes, step, tuple(_words(step, before))))
        before = step
    return chords


def _raised(sounds: Sounding, at: int) -> float:
    touched = sounds.harmonics[at]
    return sounds.midis[at] + (HARMONIC_SEMITONES[touched] if touched is not None else 0.0)


def _way(previous: Sounding | None, before: Step | None, here: Sounding, step: Step, at: int) -> str | None:
    """How a string came from the step before."""
    since = here.continues[at]
    if since is None or previous is None or before is None:
        return None
    if abs(previous.midis[since] - here.midis[at]) < _LEAST_MOVED:
        return "tied"
    string = here.strings[at]
    return "slide" if before.stance.bar.fret_at(string) != step.stance.bar.fret_at(string) else "slur"


def _goes(here: Sounding, step: Step, following: Sounding | None, next_step: Step | None, at: int) -> str | None:
    """How a string goes on to the step after."""
    if following is None or next_step is None or at not in following.continues:
        return None
    return _way(here, step, following, next_step, following.continues.index(at))


def _words(step: Step, before: Step | None) -> Iterator[str]:
    down = step.stance.down
    if dict(down) != (dict(before.stance.down) if before else {}):
        yield " ".join(_told(name) + ("" if amount == 1.0 else f" {amount:g}") for name, amount in down.items()) or "up"
    for string, semitones in step.stance.pull.items():
        yield f"string {string} pulled {semitones:g}"
    if step.remark:
        yield _told(step.remark)


def _write_figure(
    measures: _Measures, figure: Figure, chords: Sequence[_Chord], lesson: Lesson, first: bool, last: bool
) -> None:
    end = chords[-1].end
    count = max(1, math.ceil(end / measures.quarters))
    full = [*chords, _Chord(end, count * measures.quarters)]
    for index in range(count):
        measures.number += 1
        measure = SubElement(measures.part, "measure", number=str(measures.number))
        if first and index == 0:
            _attributes(measure, measures.divisions, lesson)
            _tempo(measure, lesson)
        if index == 0:
            kind = SubElement(SubElement(measure, "direction", placement="above"), "direction-type")
            SubElement(kind, "rehearsal").text = _told(figure.name)
        begin = index * measures.quarters
        for chord in full:
            _write_chord(measure, measures.divisions, chord, begin, begin + measures.quarters)
        if index == count - 1:
            style = "light-heavy" if last else "light-light"
            SubElement(SubElement(measure, "barline", location="right"), "bar-style").text = style


def _attributes(measure: Element, divisions: int, lesson: Lesson) -> None:
    attributes = SubElement(measure, "attributes")
    SubElement(attributes, "divisions").text = str(divisions)
    time = SubElement(attributes, "time")
    beats, value = lesson.meter.split("/")
    SubElement(time, "beats").text = beats
    SubElement(time, "beat-type").text = value
    SubElement(SubElement(attributes, "clef"), "sign").text = "TAB"
    strings = lesson.copedent.strings
    staff = SubElement(attributes, "staff-details")
    SubElement(staff, "staff-lines").text = str(len(strings))
    for line, midi in enumerate(reversed(strings), start=1):
        tuning = SubElement(staff, "staff-tuning", line=str(line))
        _pitch(tuning, round(midi), "tuning-")


def _tempo(measure: Element, lesson: Lesson) -> None:
    value = int(lesson.meter.split("/")[1])
    direction = SubElement(measure, "direction", placement="above")
    metronome = SubElement(SubElement(direction, "direction-type"), "metronome")
    (beat,) = note_values(Fraction(4, value))
    SubElement(metronome, "beat-unit").text = beat.name
    SubElement(metronome, "per-minute").text = f"{lesson.tempo:g}"
    SubElement(direction, "sound", tempo=f"{lesson.tempo * 4 / value:g}")


def _write_chord(measure: Element, divisions: int, chord: _Chord, begin: Fraction, end: Fraction) -> None:
    """The part of a chord that lies in a measure."""
    since, until = max(chord.begin, begin), min(chord.end, end)
    if since >= until:
        return
    if since == chord.begin:
        for words in chord.words:
            kind = SubElement(SubElement(measure, "direction", placement="above"), "direction-type")
            SubElement(kind, "words").text = words
    values = note_values(until - since)
    for index, value in enumerate(values):
        begins, ends = since == chord.begin and index == 0, until == chord.end and index == len(values) - 1
        if not chord.notes:
            rest = SubElement(measure, "note")
            SubElement(rest, "rest")
            _duration(rest, value, divisions, [])
        for order, note in enumerate(chord.notes):
            element = SubElement(measure, "note")
            if order:
                SubElement(element, "chord")
            _pitch(SubElement(element, "pitch"), note.midi)
            ways = [("stop", note.comes_by if begins else "tied"), ("start", note.goes_by if ends else "tied")]
            _duration(element, value, divisions, [kind for kind, way in ways if way == "tied"])
            _notations(element, note, ways, chord.step if begins else None)


def _duration(note: Element, value: NoteValue, divisions: int, ties: Sequence[str]) -> None:
    SubElement(note, "duration").text = str(int(value.quarters * divisions))
    for kind in ties:
        SubElement(note, "tie", type=kind)
    SubElement(note, "voice").text = "1"
    if value.name is not None:
        SubElement(note, "type").text = value.name
    if value.dotted:
        SubElement(note, "dot")
    if value.triplet:
        change = SubElement(note, "time-modification")
        SubElement(change, "actual-notes").text = "3"
        SubElement(change, "normal-notes").text = "2"


def _notations(element: Element, note: _Note, ways: Sequence[tuple[str, str | None]], step: Step | None) -> None:
    """`step` is given where it begins with this chord."""
    notations = SubElement(element, "notations")
    for kind, way in ways:
        if way == "tied":
            SubElement(notations, "tied", type=kind)
        elif way == "slur":
            SubElement(notations, "slur", type=kind, number=str(note.string))
        elif way == "slide":
            SubElement(notations, "slide", {"type": kind, "number": str(note.string), "line-type": "solid"})
    technical = SubElement(notations, "technical")
    SubElement(technical, "string").text = str(note.string)
    SubElement(technical, "fret").text = str(note.fret)
    if note.harmonic:
        SubElement(SubElement(technical, "harmonic"), "artificial")
    if step is not None and step.roll and note.string in step.pick:
        SubElement(notations, "arpeggiate")


def _pitch(element: Element, midi: float, prefix: str = "") -> None:
    """Step, alter and octave of the nearest semitone, or quarter-tone between two."""
    whole = math.floor(midi + 1e-9)
    between = midi - whole
    whole += between >= 0.75
    quarter = QUARTER_TONE if 0.25 < between < 0.75 else 0.0
    name = NAMES[whole % 12]
    alter = len(name) - 1 + quarter
    SubElement(element, f"{prefix}step").text = name[0]
    if alter:
        SubElement(element, f"{prefix}alter").text = f"{alter:g}"
    SubElement(element, f"{prefix}octave").text = str(whole // 12 - 1)


def _told(text: str) -> str:
    """Text without the characters that XML 1.0 does not have."""
    return "".join(character if character.isprintable() else " " for character in text)
