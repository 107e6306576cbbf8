"""A player of MIDI takes: plays figures as a lesson writes them, and then as told otherwise.

In: the text of a lesson. Out: the report on the take as plain values. One channel a string, bend range 24 semitones by
RPN 0. Every stroke is a value that a test may change before the take is graded: `take.play` gives the strokes of a
figure by (step, string), `take.strike` adds one that nobody asked for. Seconds from the start of the take, pitch in
MIDI numbers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import mido

from livecheck.engine import Brief, MidiEngine
from livecheck.hearing.midi.input import MidiInput
from livecheck.lesson.expectation import Note, expect
from livecheck.lesson.figure import Figure, Lesson
from livecheck.lesson.reading import read_lesson
from livecheck.reports.document import document_of
from livecheck.sources.library import load_copedent, load_tolerances

BEND_SEMITONES = 24
BEND_EVERY_S = 0.005
RELEASE_S = 0.01
"""So long before the next thing on its string a stroke is let go."""


@dataclass
class Stroke:
    """A string struck, its pitch as straight lines between points of (second, MIDI number), and let go."""

    string: int
    start_s: float
    end_s: float
    points: list[tuple[float, float]]

    def midi_at(self, time_s: float) -> float:
        before = [point for point in self.points if point[0] <= time_s]
        after = [point for point in self.points if point[0] > time_s]
        if not before or not after:
            return before[-1][1] if before else after[0][1]
        (low_s, low), (high_s, high) = before[-1], after[0]
        return low + (high - low) * (time_s - low_s) / (high_s - low_s)

    def shift(self, by_s: float) -> None:
        """Strike later, and let everything on the string come later."""
        self.start_s += by_s
        self.end_s += by_s
        self.points = [(time_s + by_s, midi) for time_s, midi in self.points]

    def strike_later(self, by_s: float) -> None:
        """Strike later, and move and let go when the figure has it."""
        self.start_s += by_s

    def detune(self, semitones: float) -> None:
        self.points = [(time_s, midi + semitones) for time_s, midi in self.points]

    def delay_moves(self, by_s: float) -> None:
        """Move later, with the same speed."""
        self.points = [(time_s + by_s, midi) for time_s, midi in self.points]

    def stay(self) -> None:
        """Never leave the pitch of the start."""
        self.points = [(self.start_s, self.midi_at(self.start_s))]


@dataclass
class Take:
    """A take in the making."""

    lesson_text: str
    off_cents: float = 0.0
    """How far the whole instrument is sharp."""
    strokes: list[Stroke] = field(default_factory=list)

    @property
    def lesson(self) -> Lesson:
        return read_lesson(self.lesson_text, "lesson.toml", load_copedent)

    def figure(self, name: str) -> Figure:
        return next(figure for figure in self.lesson.figures if figure.name == name)

    def play(self, name: str, at_s: float, tempo: float | None = None) -> dict[tuple[int, int], Stroke]:
        """Play a figure without a fault, its beat 1 at a time; the strokes by (step, string)."""
        lesson = self.lesson
        beat_s = 60.0 / (lesson.tempo if tempo is None else tempo)
        played = {
            (note.checkpoints[0].step, note.string): _stroke(note, at_s, beat_s)
            for note in expect(self.figure(name), lesson.copedent).notes
        }
        self.strokes += played.values()
        return played

    def end_s(self, name: str, at_s: float, tempo: float | None = None) -> float:
        """When a figure that begins at a time has run its length."""
        return at_s + float(self.figure(name).length) * 60.0 / (self.lesson.tempo if tempo is None else tempo)

    def strike(self, string: int, start_s: float, end_s: float, midi: float) -> Stroke:
        stroke = Stroke(string, start_s, end_s, [(start_s, midi)])
        self.strokes.append(stroke)
        return stroke

    def leave_out(self, stroke: Stroke) -> None:
        self.strokes = [one for one in self.strokes if one is not stroke]

    def messages(self) -> list[tuple[float, mido.Message]]:
        timed: list[tuple[float, int, mido.Message]] = []
        for channel in range(max((stroke.string for stroke in self.strokes), default=1)):
            for control, value in ((101, 0), (100, 0), (6, BEND_SEMITONES), (38, 0)):
                timed.append((0.0, 0, mido.Message("control_change", channel=channel, control=control, value=value)))
        for stroke in self.strokes:
            timed += _timed(stroke, self.off_cents / 100.0)
        return [(time_s, message) for time_s, _, message in sorted(timed, key=lambda one: one[:2])]

    def report(self, tolerances: str = "standard", figures: tuple[str, ...] = (), **brief: Any) -> dict[str, Any]:
        """The report on the take; `brief` goes to `Brief`."""
        lesson = self.lesson
        wanted = tuple(figure for figure in lesson.figures if not figures or figure.name in figures)
        channels = {string: string for string in range(1, min(16, len(lesson.copedent.strings)) + 1)}
        engine = MidiEngine(Brief(lesson, wanted, load_tolerances(tolerances), **brief), MidiInput(channels))
        for time_s, message in self.messages():
            engine.feed(time_s, message)
        return dict(document_of(engine.finish("take.mid")))


def _stroke(note: Note, at_s: float, beat_s: float) -> Stroke:
    start_s, end_s = (at_s + (beat - 1.0) * beat_s for beat in (note.start_beat, note.end_beat))
    points = [(at_s + (beat - 1.0) * beat_s, midi) for beat, midi in note.knots]
    return Stroke(note.string, start_s, end_s - RELEASE_S, points)


def _timed(stroke: Stroke, off: float) -> Iterator[tuple[float, int, mido.Message]]:
    """(second, order within it, message): a bend before a note, a note's end before the next one's bend."""
    channel = stroke.string - 1
    key = min(127, max(0, round(stroke.midi_at(stroke.start_s) + off)))
    sent: int | None = None
    steps = int((stroke.end_s - stroke.start_s) / BEND_EVERY_S)
    for step in range(steps + 1):
        time_s = stroke.start_s + step * BEND_EVERY_S
        bend = round((stroke.midi_at(time_s) + off - key) / BEND_SEMITONES * 8192)
        if bend != sent:
            yield time_s, 1, mido.Message("pitchwheel", channel=channel, pitch=max(-8192, min(8191, bend)))
            sent = bend
    yield stroke.start_s, 2, mido.Message("note_on", channel=channel, note=key, velocity=80)
    yield stroke.end_s, 0, mido.Message("note_off", channel=channel, note=key)


def faults(report: dict[str, Any]) -> dict[tuple[str, int, int], list[str]]:
    """(figure, step, string) -> faults, of every checkpoint that has some; attempts of one name fall together."""
    return {
        (figure["figure"], checkpoint["step"], checkpoint["string"]): checkpoint["faults"]
        for figure in report["figures"]
        for checkpoint in figure["checkpoints"]
        if checkpoint["faults"]
    }


def extras(report: dict[str, Any]) -> list[tuple[str, str, int | None]]:
    """(figure, fault, string), in order of time."""
    return [(f["figure"], extra["fault"], extra["string"]) for f in report["figures"] for extra in f["extras"]]


def checkpoint(report: dict[str, Any], figure: str, step: int, string: int, attempt: int = 1) -> dict[str, Any]:
    found = next(f for f in report["figures"] if f["figure"] == figure and f["attempt"] == attempt)
    return dict(next(c for c in found["checkpoints"] if (c["step"], c["string"]) == (step, string)))


def lesson_of(figures: str, tempo: float = 60, copedent: str = "e9-ten-string", more: str = "") -> str:
    """The text of a lesson around its figures."""
    return f'format = 1\ntempo = {tempo}\ncopedent = "{copedent}"\n{more}\n{figures}'


def figure_of(name: str, length: float, *steps: str) -> str:
    """The text of a figure."""
    lines = "\n".join(f"  {{ {step} }}," for step in steps)
    return f'[[figure]]\nname = "{name}"\nlength = {length}\nsteps = [\n{lines}\n]\n'
