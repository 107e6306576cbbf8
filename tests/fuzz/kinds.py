"""The kinds of input: how one is made by chance, how it is read, and what holds for whatever is read.

Reading ends with a value, with `Unusable`, or with what is a mistake in livecheck: any other exception, an assertion
among them.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random
from unittest.mock import patch

import numpy as np
from rich.console import Console

from livecheck.cli.main import main
from livecheck.errors import Unusable
from livecheck.hearing.midi.ear import MidiEar
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import expect
from livecheck.lesson.figure import Lesson
from livecheck.lesson.reading import read_copedent, read_lesson
from livecheck.reports.sheet import Sheet
from livecheck.sources import audio_file, midi_file
from livecheck.sources.file import read_text
from livecheck.sources.input_file import read_input
from livecheck.sources.library import load_copedent, load_input, load_lesson
from livecheck.sources.tolerance_file import read_tolerances
from tests.fuzz import invented, played, seeds, written
from tests.fuzz.mutation import any_messages, damaged, miswritten, refitted, resealed

WIDTH = 80
NAME = "input"
"""What the input's file is called: nothing may hang on a name."""


@dataclass(frozen=True)
class Kind:
    make: Callable[[Random], bytes]
    read: Callable[[Path], None]
    """Reads the file at a path; raises Unusable, or whatever a mistake raises."""
    slowest_s: float = 5.0
    """On a machine that is busy with other work too. A few kilobytes take milliseconds."""


def _from_bytes(files: Callable[[], Sequence[bytes]]) -> Callable[[Random], bytes]:
    return lambda rng: damaged(rng.choice(files()), rng, files())


def _midi_take(rng: Random) -> bytes:
    """Half of them hold the lesson, with any messages at all before or after it."""
    if rng.random() < 0.5:
        return _midi(rng)
    parts = [seeds.midis()[0][seeds.MIDI_HEADER_BYTES : -seeds.MIDI_END_BYTES], any_messages(rng)]
    return seeds.midi_of(b"".join(rng.sample(parts, 2)))


def _ogg(rng: Random) -> bytes:
    """Mostly with checksums that are right: of a page with a wrong one nothing is read."""
    data = _from_bytes(lambda: seeds.sounds("OGG"))(rng)
    return resealed(data) if rng.random() < 0.8 else data


def _midi(rng: Random) -> bytes:
    """Damaged files, mostly with a length of the track that is right, else nothing is read; and any messages at all."""
    if rng.random() < 0.4:
        return seeds.midi_of(any_messages(rng))
    data = _from_bytes(seeds.midis)(rng)
    return refitted(data) if rng.random() < 0.8 else data


def _from_text(files: Callable[[], Sequence[bytes]]) -> Callable[[Random], bytes]:
    """Mostly slips of the pen, some damaged bytes."""

    def make(rng: Random) -> bytes:
        file = rng.choice(files())
        return miswritten(file.decode(), rng).encode() if rng.random() < 0.8 else damaged(file, rng, files())

    return make


def _copedent_for(named: str) -> Copedent:
    return invented.copedent(Random(1)) if named == "made-up.toml" else load_copedent(named)


def _read_lesson(path: Path) -> None:
    lesson = read_lesson(read_text(path, "a lesson file"), NAME, _copedent_for)
    for figure in lesson.figures:
        expect(figure, lesson.copedent)


def _show_lesson(path: Path) -> None:
    lesson = read_lesson(read_text(path, "a lesson file"), NAME, _copedent_for)
    shown(lesson, notes=False)
    shown(lesson, notes=True)


def _read_copedent(path: Path) -> None:
    own = read_copedent(read_text(path, "a copedent file"), NAME)
    down = dict.fromkeys(own.changes, 0.5)
    pitches = [own.open_midi(string) + own.shift(string, down) for string in range(1, len(own.strings) + 1)]
    assert np.isfinite(pitches).all()


def _read_tolerances(path: Path) -> None:
    assert read_tolerances(read_text(path, "a tolerance file"), NAME).cents > 0.0


def _read_input(path: Path) -> None:
    assert read_input(read_text(path, "an input file"), NAME).for_strings(10).bend_semitones > 0.0


def _read_audio(path: Path) -> None:
    take = audio_file.open_audio(str(path))
    frames = 0
    for block in take.blocks:
        assert block.dtype == np.float32
        assert block.ndim == 1
        assert np.isfinite(block).all()
        assert np.abs(block).max() <= audio_file.LOUDEST_PEAK
        frames += len(block)
    assert frames == round(take.duration_s * take.rate_hz)


def _read_midi(path: Path) -> None:
    take = midi_file.read_midi(str(path))
    times_s = [time_s for time_s, _ in take.messages]
    assert times_s == sorted(times_s)
    assert 0.0 <= take.duration_s <= midi_file.LONGEST_S
    ear = MidiEar(load_input("channel-per-string"))
    for time_s, message in take.messages:
        ear.feed(time_s, message)
    for note in ear.finish(take.duration_s):
        assert np.isfinite(note.midis).all()
        assert 0.0 <= note.start_s < note.end_s <= take.duration_s


def _grade(path: Path) -> None:
    _graded(seeds.write_lesson(path.parent), str(path))


def _graded(lesson: str, take: str, *options: str) -> str:
    """What the whole command prints. What it says when it cannot use a take is raised again as `Unusable`."""
    printed, said = io.StringIO(), io.StringIO()
    narrow = patch.dict(os.environ, COLUMNS=str(WIDTH))
    with narrow, contextlib.redirect_stdout(printed), contextlib.redirect_stderr(said):
        status = main(["grade", lesson, take, *(options or ("--json",))])
    assert "livecheck itself" not in said.getvalue(), said.getvalue()
    assert status in (0, 1, 2)
    assert (status == 2) == (printed.getvalue() == "")
    if status == 2:
        (sentence,) = said.getvalue().splitlines()
        raise Unusable(sentence)
    return printed.getvalue()


def shown(lesson: Lesson, notes: bool, width: int = WIDTH) -> list[str]:
    """The lines of `livecheck show` for a terminal of `width` columns, in full."""
    console = Console(file=io.StringIO(), width=width, highlight=False, legacy_windows=False)
    with console.capture() as lines:
        console.print(Sheet(lesson, lesson.figures, notes), crop=False)
    return lines.get().splitlines()


def _invented(rng: Random) -> bytes:
    """A lesson that is right, with its copedent behind it in the same text, told apart by a line."""
    lesson = invented.lesson(rng)
    return (written.lesson_text(lesson, rng) + SEPARATOR + written.copedent_text(lesson.copedent)).encode()


SEPARATOR = "# the copedent\n"


def _read_invented(path: Path) -> None:
    """Cannot be Unusable: a sentence about a lesson that is right is a mistake."""
    text, copedent = path.read_text(encoding="utf-8").split(SEPARATOR)
    try:
        lesson = read_lesson(text, NAME, lambda _: read_copedent(copedent, NAME))
    except Unusable as error:
        raise AssertionError(f"refused: {error}") from None
    for notes in (False, True):
        assert max(map(len, shown(lesson, notes))) <= WIDTH


def _played(play: Callable[[Lesson, Random], bytes]) -> Callable[[Path], None]:
    """Plays the lesson with mistakes, and has it graded in both ways of reporting."""

    def read(path: Path) -> None:
        data = path.read_bytes()
        text, copedent = data.decode().split(SEPARATOR)
        tempo = min(max(float(re.findall(r"(?m)^tempo = (.*)$", text)[0]), 60.0), 300.0)
        text = re.sub(r"(?m)^tempo = .*$", f"tempo = {tempo}", text)
        lesson, own, take = (path.with_name(name) for name in ("lesson.toml", "made-up.toml", "take"))
        lesson.write_text(text, encoding="utf-8")
        own.write_text(copedent, encoding="utf-8")
        take.write_bytes(play(load_lesson(str(lesson)), Random(data)))
        report = json.loads(_graded(str(lesson), str(take)))
        assert report["clean"] == all(figure["clean"] for figure in report["figures"])
        lines = _graded(str(lesson), str(take), "--timing", "click").splitlines()
        assert max(map(len, lines)) <= WIDTH

    return read


KINDS = {
    "lesson": Kind(_from_text(seeds.lessons), _read_lesson),
    "lesson shown": Kind(_from_text(seeds.lessons), _show_lesson),
    "right lesson": Kind(_invented, _read_invented),
    "copedent": Kind(_from_text(lambda: seeds.configs("copedents")), _read_copedent),
    "tolerances": Kind(_from_text(lambda: seeds.configs("tolerances")), _read_tolerances),
    "input": Kind(_from_text(lambda: seeds.configs("inputs")), _read_input),
    "wav": Kind(_from_bytes(lambda: seeds.sounds("WAV")), _read_audio),
    "aiff": Kind(_from_bytes(lambda: seeds.sounds("AIFF")), _read_audio),
    "flac": Kind(_from_bytes(lambda: seeds.sounds("FLAC")), _read_audio),
    "ogg": Kind(_ogg, _read_audio),
    "mp3": Kind(_from_bytes(lambda: seeds.sounds("MP3")), _read_audio),
    "midi": Kind(_midi, _read_midi),
    "midi graded": Kind(_midi_take, _grade),
    "lesson played": Kind(_invented, _played(played.midi_file), slowest_s=60.0),
    "lesson heard": Kind(_invented, _played(played.sound_file), slowest_s=60.0),
    "wav graded": Kind(_from_bytes(seeds.takes), _grade),
}
