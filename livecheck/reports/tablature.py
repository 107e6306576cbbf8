"""A figure as tablature: a row per string, fret numbers with the letters of the pedals and levers that pull it.

In: a figure and its copedent. Out: a renderable as wide as it is told, wrapped between steps, never inside one. Time
runs from left to right, roughly to scale. Where a string rings there is a line, where it is silent there is none. A
cell stands where a string is struck or where it arrives; the line before an arrival shows how it gets there. Plain
ASCII where the output has no more.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np
from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from livecheck.lesson.beat import beat_text
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import Note, expect
from livecheck.lesson.figure import Figure, Stance, Step
from livecheck.lesson.pitch import name_of
from livecheck.reports.hanging import Hanging
from livecheck.reports.wording import fret_text, pitch_text, plain

COLUMNS_A_BEAT = 6
WIDEST_GAP = 16
"""Columns between two steps, however long the wait."""
LEAST_GAP = 3
LEAST_GLIDE = 2
"""Columns by which every slide or squeeze shows."""


@dataclass(frozen=True)
class Signs:
    """The characters that a tablature is drawn with."""

    rings: str
    vibrato: str
    up: str
    down: str
    squeeze: str
    block: str
    silent: str
    end: str
    half: str


ASCII = Signs("-", "~", "/", "\\", "=", "X", ".", "|", "/2")
DRAWN = Signs("─", "~", "╱", "╲", "═", "X", "·", "│", "½")


@dataclass(frozen=True)
class _Glide:
    """A change of one ringing string, complete at a step."""

    step: int
    begin_beat: float
    end_beat: float
    of_bar: bool
    sign: str


@dataclass(frozen=True)
class _Voice:
    """One string from its pick to its end, in numbers of steps; an end beyond the last step is the figure's end."""

    string: int
    first: int
    last: int
    blocked: bool
    glides: tuple[_Glide, ...]
    note: Note

    def midi_at(self, step: Step) -> float:
        """The pitch once a step is complete."""
        return float(self.note.midi_at(np.array([max(float(step.beat), self.note.start_beat)]))[0])

    def arrives(self, step: int) -> bool:
        return any(glide.step == step for glide in self.glides)

    def sign_at(self, beat: float) -> str | None:
        """How the string is moving; the bar's movement shows before the pedals'."""
        moving = [glide for glide in self.glides if glide.begin_beat <= beat < glide.end_beat]
        return max(moving, key=lambda glide: glide.of_bar).sign if moving else None


@dataclass(frozen=True)
class Tablature:
    """One figure, drawn."""

    figure: Figure
    copedent: Copedent
    notes: bool = False
    """Whether to add the pitches that result."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        sheet = _Sheet(self.figure, self.copedent, self.notes, signs_for(options))
        for number, system in enumerate(sheet.systems(options.max_width)):
            if number:
                yield Text()
            yield from system
        for step, remark in _remarks(self.figure):
            yield Hanging(remark, lead=f"step {step}  ", further=0)


def signs_for(options: ConsoleOptions) -> Signs:
    """What the output's encoding can show."""
    return ASCII if options.ascii_only else DRAWN


class _Sheet:
    """Lays a figure's steps out in columns and draws them."""

    def __init__(self, figure: Figure, copedent: Copedent, notes: bool, signs: Signs) -> None:
        self.figure = figure
        self.copedent = copedent
        self.notes = notes
        self.signs = signs
        self.voices = [_voice(figure, copedent, note, signs) for note in expect(figure, copedent).notes]
        self.beats = [*(float(step.beat) for step in figure.steps), float(1 + figure.length)]
        self.heads = [_head(step, signs) for step in figure.steps]
        self.cells = [self._cells(step) for step in figure.steps]
        self.labels = {string: self._label(string) for string in sorted({voice.string for voice in self.voices})}
        self.left = max(map(len, self.labels.values())) + 2

    def _label(self, string: int) -> str:
        midi = self.copedent.open_midi(string)
        return f"{string:>2}  {pitch_text(midi) if self.notes else name_of(midi)}"

    def _cells(self, step: Step) -> dict[int, tuple[str, str]]:
        """String -> its cell and its pitch at a step."""
        cells: dict[int, tuple[str, str]] = {}
        for voice in self.voices:
            starts = voice.first == step.number
            if starts or voice.arrives(step.number):
                cell = cell_text(step.stance, voice.string, self.copedent, self.signs.half)
                cells[voice.string] = (
                    cell + ("*" if starts and step.harmonic else ""),
                    pitch_text(voice.midi_at(step)),
                )
            elif voice.last == step.number and voice.blocked:
                cells.setdefault(voice.string, (self.signs.block, ""))
        return cells

    def _width(self, step: int) -> int:
        """Columns that a step's cells and head take."""
        texts = [text for pair in self.cells[step - 1].values() for text in (pair if self.notes else pair[:1])]
        return max(map(len, [*texts, *self.heads[step - 1].values()]))

    def _gap(self, step: int) -> int:
        """Columns from a step's start to the next one's."""
        beats = self.beats[step] - self.beats[step - 1]
        cells = max((len(cell) for cell, _ in self.cells[step - 1].values()), default=0)
        return max(self._width(step) + 1, cells + LEAST_GAP, min(round(beats * COLUMNS_A_BEAT), WIDEST_GAP))

    def systems(self, width: int) -> Iterator[list[Text]]:
        """The figure's lines, system by system, each at most `width` columns where its widest step allows."""
        count = len(self.figure.steps)
        first = 1
        while first <= count:
            places = {first: self.left + (LEAST_GAP + 1 if first > 1 else 0)}
            step = first
            while step < count and places[step] + self._gap(step) + self._width(step + 1) + LEAST_GAP <= width:
                step += 1
                places[step] = places[step - 1] + self._gap(step - 1)
            tail = self._gap(step) if step == count else self._width(step) + LEAST_GAP - 1
            yield self._system(places, min(places[step] + tail, max(width - 1, places[step] + self._width(step))))
            first = step + 1

    def _system(self, places: Mapping[int, int], end: int) -> list[Text]:
        rows = (
            ["step", "beat", "bar", "down"]
            if any(step.stance.down for step in self.figure.steps)
            else ["step", "beat", "bar"]
        )
        lines = [self._head_line(row, places) for row in rows]
        for string in self.labels:
            lines.append(self._string_line(string, places, end))
            pitches = {place: self.cells[step - 1].get(string, ("", ""))[1] for step, place in places.items()}
            if self.notes and any(pitches.values()):
                lines.append(self._written("", pitches))
        return lines

    def _head_line(self, row: str, places: Mapping[int, int]) -> Text:
        """Steps and beats in full; bar and pedals at the left edge and where they change."""
        shown = {step: place for step, place in places.items() if step in (1, min(places)) or self._changes(row, step)}
        return self._written(row, {place: self.heads[step - 1][row] for step, place in shown.items()})

    def _changes(self, row: str, step: int) -> bool:
        before, after = self.figure.steps[step - 2].stance, self.figure.steps[step - 1].stance
        return row in ("step", "beat") or (before.bar != after.bar if row == "bar" else before.down != after.down)

    def _string_line(self, string: int, places: Mapping[int, int], end: int) -> Text:
        canvas = list(f"{self.labels[string]:<{end}}")
        first, last = min(places), max(places)
        for step, begin, until in [
            (first, self.left, places[first]),
            *((s + 1, places[s], places.get(s + 1, end)) for s in places),
        ]:
            self._draw_line(canvas, string, step, begin, until)
        cells = {
            place: self.cells[step - 1][string][0] for step, place in places.items() if string in self.cells[step - 1]
        }
        for place, cell in cells.items():
            canvas[place : place + len(cell)] = cell
        closing = self.signs.end if last == len(self.figure.steps) else ""
        text = Text(("".join(canvas) + closing).rstrip(), no_wrap=True, overflow="ignore")
        for place, cell in cells.items():
            text.stylize("bold", place, place + len(cell))
        return text

    def _draw_line(self, canvas: list[str], string: int, step: int, begin: int, end: int) -> None:
        """The string between the places of two steps, the later one being `step`."""
        voice = next((v for v in self.voices if v.string == string and v.first < step <= v.last), None)
        if step == 1:
            return
        if voice is None:
            canvas[begin] = self.signs.silent if begin > self.left or step == 2 else " "
            return
        since, until = self.beats[step - 2], self.beats[step - 1]
        line = self.signs.vibrato if self.figure.steps[step - 2].vibrato else self.signs.rings
        for place in range(begin, end):
            canvas[place] = voice.sign_at(since + (until - since) * (place - begin) / (end - begin)) or line
        if voice.arrives(step):
            canvas[end - LEAST_GLIDE : end] = (voice.sign_at(until - 1e-6) or line) * LEAST_GLIDE

    def _written(self, label: str, texts: Mapping[int, str]) -> Text:
        line = f"{label:<{self.left}}"
        for place, text in texts.items():
            line = line.ljust(place) + text if text else line
        return Text(line.rstrip(), no_wrap=True, overflow="ignore")


def _voice(figure: Figure, copedent: Copedent, note: Note, signs: Signs) -> _Voice:
    first = note.checkpoints[0].step
    ended = [step.number for step in figure.steps if step.beat <= Fraction(note.end_beat).limit_denominator(10_000)]
    last = len(figure.steps) + 1 if note.ending == "end" else ended[-1]
    glides: list[_Glide] = []
    for before, step in pairwise(figure.steps[first - 1 : last]):
        if step.number == last and note.ending != "end":
            break
        begin_beat, end_beat = float(step.beat - step.over), float(step.beat)
        frets = step.stance.bar.fret_at(note.string) - before.stance.bar.fret_at(note.string)
        if step.stance.shift(note.string, copedent) != before.stance.shift(note.string, copedent):
            glides.append(_Glide(step.number, begin_beat, end_beat, False, signs.squeeze))
        if frets:
            glides.append(_Glide(step.number, begin_beat, end_beat, True, signs.up if frets > 0 else signs.down))
    return _Voice(note.string, first, last, note.ending == "block", tuple(glides), note)


def legend(figures: Iterable[Figure], copedent: Copedent, signs: Signs) -> list[str]:
    """What the signs mean that the figures' tablatures use."""
    shown = list(figures)
    steps = [step for figure in shown for step in figure.steps]
    voices = [_voice(figure, copedent, note, signs) for figure in shown for note in expect(figure, copedent).notes]
    used = {glide.sign for voice in voices for glide in voice.glides}
    meanings = [
        (signs.rings * 3, "rings", True),
        (signs.up * 3, "bar up", signs.up in used),
        (signs.down * 3, "bar down", signs.down in used),
        (signs.squeeze * 3, "pedal, lever or pull moves", signs.squeeze in used),
        (signs.vibrato * 3, "vibrato", any(step.vibrato for step in steps)),
        (signs.block, "blocked", any(voice.blocked for voice in voices)),
        (signs.half, "half down", any(0.5 in step.stance.down.values() for step in steps)),
        ("*", "harmonic", any(step.harmonic for step in steps)),
        ("+", "pulled behind the bar, in semitones", any(step.stance.pull for step in steps)),
    ]
    return [f"{sign} {meaning}" for sign, meaning, here in meanings if here]


def cell_text(stance: Stance, string: int, copedent: Copedent, half: str) -> str:
    """Fret and letters as they stand in a row: 10, 10A, 7.5, 3A+LKL, 5+1 for a pull behind the bar."""
    names = [
        plain(name) + _amount_text(amount, half)
        for name, amount in stance.down.items()
        if copedent.changes[name].get(string) or any(name in pair and string in p for pair, p in copedent.pairs.items())
    ]
    letters = ("" if all(len(name) == 1 for name in names) else "+").join(names)
    pull = f"+{stance.pull[string]:g}" if string in stance.pull else ""
    return fret_text(stance.bar.fret_at(string)) + ("" if not letters or letters[0].isupper() else ":") + letters + pull


def _amount_text(amount: float, half: str) -> str:
    return "" if amount == 1.0 else half if amount == 0.5 else f"({amount:g})"


def _head(step: Step, signs: Signs) -> dict[str, str]:
    """What stands above a step, row by row."""
    stance = step.stance
    bar = "slant" if not stance.bar.is_straight else fret_text(stance.bar.frets[0][1])
    down = " ".join(plain(name) + _amount_text(amount, signs.half) for name, amount in stance.down.items())
    return {"step": str(step.number), "beat": beat_text(step.beat), "bar": bar, "down": down or "none"}


def _remarks(figure: Figure) -> Iterator[tuple[int, str]]:
    """(step, what its row of cells cannot show)."""
    for step in figure.steps:
        told: list[str] = []
        if step.harmonic:
            told.append(f"harmonic, touched {step.harmonic} frets above the bar")
        if step.roll:
            told.append(f"rolled {' '.join(map(str, step.pick))}, {beat_text(step.roll)} beat apart")
        if step.swell:
            told.append("swelled in")
        if step.vibrato:
            told.append("vibrato")
        if step.remark:
            told.append(plain(step.remark))
        if told:
            yield step.number, "; ".join(told)
