"""Calls of the real command line, and a lesson with takes for them to work on.

The takes are played by the lesson itself: what is expected, at the lesson's tempo, from `START_S` on.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

import mido
import numpy as np
import soundfile
from numpy.typing import NDArray

import livecheck
from livecheck.lesson.expectation import Note, expect
from livecheck.sources.library import load_lesson

RATE_HZ = 48_000
START_S = 0.5
PAUSE_S = 0.7
BEND_SEMITONES = 12

LESSON = """
format = 1
title = "Rain on the shed"
tempo = 90
copedent = "three.toml"

[[figure]]
name = "1"
length = 8
steps = [
  { beat = 1, fret = 3, pick = [1, 3] },
  { beat = 3, fret = 5, over = 0.5 },
  { beat = 5, fret = 8, pick = [2] },
  { beat = 7, block = "all" },
]

[[figure]]
name = "2"
length = 4
steps = [
  { beat = 1, fret = 10, pick = [1] },
  { beat = 2, down = ["P"], over = 0.25 },
  { beat = 3, pick = [3] },
]
"""
COPEDENT = """
format = 1
name = "Three strings and a pedal"
strings = ["B4", "G#4", "E4"]

[changes]
P = { 1 = 2 }
"""


def livecheck_call(
    *arguments: str, folder: Path, environment: Mapping[str, str] | None = None, **how: Any
) -> subprocess.CompletedProcess[str]:
    """`livecheck ARGUMENTS`, in a folder, as from a shell."""
    settings: dict[str, Any] = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **how}
    call = [sys.executable, "-m", "livecheck", *arguments]
    done: subprocess.CompletedProcess[str] = subprocess.run(
        call, cwd=folder, env=variables(environment), encoding="utf-8", timeout=60, check=False, **settings
    )
    return done


def variables(more: Mapping[str, str] | None = None) -> dict[str, str]:
    """The environment of a call: this checkout, whatever folder the call is made in."""
    return {**os.environ, "PYTHONPATH": str(Path(livecheck.__file__).parents[1]), "COLUMNS": "80", **(more or {})}


def write_lesson(folder: Path) -> str:
    """The lesson and its copedent; the lesson's name."""
    (folder / "three.toml").write_text(COPEDENT, encoding="utf-8")
    (folder / "lesson.toml").write_text(LESSON, encoding="utf-8")
    return "lesson.toml"


def write_midi(
    folder: Path,
    name: str = "take.mid",
    figures: Collection[str] = ("1", "2"),
    late_s: float = 0.0,
    tell_range: bool = True,
) -> str:
    """A take as MIDI, string n on channel n; all moves `late_s` too late; `tell_range` by RPN 0."""
    events: list[tuple[float, int, mido.Message]] = []
    for start_s, beat_s, note in _played(folder, figures):
        channel, key = note.string - 1, round(note.knots[0][1])
        begin_s, end_s = (start_s + (beat - 1.0) * beat_s for beat in (note.start_beat, note.end_beat - 0.03))
        events.append((begin_s, 1, mido.Message("note_on", channel=channel, note=key, velocity=90)))
        events.append((end_s, 2, mido.Message("note_off", channel=channel, note=key)))
        for time_s in np.arange(begin_s, end_s, 0.01):
            midi = float(note.midi_at(np.array((time_s - late_s - start_s) / beat_s + 1.0)))
            value = round((midi - key) / BEND_SEMITONES * 8192)
            events.append((float(time_s), 0, mido.Message("pitchwheel", channel=channel, pitch=value)))
    track = mido.MidiTrack()
    for channel in range(3 if tell_range else 0):
        for control, value in ((101, 0), (100, 0), (6, BEND_SEMITONES), (38, 0)):
            track.append(mido.Message("control_change", channel=channel, control=control, value=value))
    now = 0
    for time_s, _, message in sorted(events, key=lambda event: event[:2]):
        ticks = round(time_s * 1000.0)
        track.append(message.copy(time=ticks - now))
        now = ticks
    mido.MidiFile(ticks_per_beat=500, tracks=[track]).save(folder / name)
    return name


def write_audio(folder: Path, name: str = "take.wav") -> str:
    """A take as sound: plucked tones of eight partials."""
    samples = np.zeros(round(13.0 * RATE_HZ))
    for start_s, beat_s, note in _played(folder, ("1", "2")):
        begin, end = (round((start_s + (beat - 1.0) * beat_s) * RATE_HZ) for beat in (note.start_beat, note.end_beat))
        samples[begin:end] += _plucked(note.midi_at(note.start_beat + np.arange(end - begin) / RATE_HZ / beat_s))
    soundfile.write(folder / name, samples, RATE_HZ)
    return name


def _played(folder: Path, figures: Collection[str]) -> list[tuple[float, float, Note]]:
    """Start of its figure, length of a beat, and the note, for each note of the lesson."""
    lesson = load_lesson(str(folder / "lesson.toml"))
    played, start_s = [], START_S
    for figure in (figure for figure in lesson.figures if figure.name in figures):
        played += [(start_s, lesson.beat_s, note) for note in expect(figure, lesson.copedent).notes]
        start_s += float(figure.length) * lesson.beat_s + PAUSE_S
    return played


def _plucked(midis: NDArray[np.float64]) -> NDArray[np.float64]:
    times_s = np.arange(len(midis)) / RATE_HZ
    phase = 2.0 * np.pi * np.cumsum(440.0 * 2.0 ** ((midis - 69.0) / 12.0)) / RATE_HZ
    shape = np.minimum(1.0, np.minimum(times_s, times_s[::-1]) / 0.003)
    partials = [np.sin(k * phase) / k * np.exp(-(0.4 + 0.3 * k) * times_s) for k in range(1, 9)]
    return np.asarray(0.15 * shape * np.sum(partials, axis=0))
