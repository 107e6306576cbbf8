"""Small files that can be used, of every kind that is read: what damage starts from."""

from __future__ import annotations

import io
import struct
from functools import cache
from pathlib import Path
from random import Random

import mido
import numpy as np
import soundfile
from numpy.typing import NDArray

from livecheck.lesson.expectation import expect
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import configs_folder, load_copedent
from tests.fuzz import invented, written

RATE_HZ = 8_000
START_S = 0.25
MIDI_HEADER_BYTES, MIDI_END_BYTES = 22, 4
"""What is before the first event of a file of one track, and the event that ends it."""
LESSON = """format = 1
title = "Two strings"
tempo = 240
copedent = "e9-ten-string"

[[figure]]
name = "1"
length = 4
steps = [
  { beat = 1, fret = 3, pick = [5, 8], roll = 0.1 },
  { beat = "2 1/2", down = { A = 1 }, over = 0.5, remark = "slowly", vibrato = true },
  { beat = 3, slant = { 5 = 5, 8 = 6 }, pick = [8], ring = [5] },
  { beat = 4, block = "all" },
]
"""
"""A lesson of a second, for takes that are graded many times."""


@cache
def lessons() -> tuple[bytes, ...]:
    made_up = [written.lesson_text(invented.lesson(Random(seed)), Random(seed)) for seed in range(4)]
    return (LESSON.encode(), *(text.encode() for text in made_up))


@cache
def configs(kind: str) -> tuple[bytes, ...]:
    """The files of a kind that come with livecheck."""
    return tuple(path.read_bytes() for path in sorted((configs_folder() / kind).glob("*.toml")))


@cache
def sounds(name: str) -> tuple[bytes, ...]:
    """A second of two plucked strings, mono and stereo, in a format as `soundfile` calls it."""
    times_s = np.arange(RATE_HZ) / RATE_HZ
    tones = [np.exp(-3.0 * times_s) * np.sin(2.0 * np.pi * hz * times_s) / 3.0 for hz in (220.0, 330.0)]
    subtypes = {"WAV": ("PCM_16", "PCM_24", "FLOAT", "DOUBLE", "ULAW"), "AIFF": ("PCM_16", "FLOAT")}
    both = (np.sum(tones, axis=0), np.stack(tones, axis=1))
    return tuple(_sound_file(samples, name, subtype) for subtype in subtypes.get(name, (None,)) for samples in both)


@cache
def takes() -> tuple[bytes, ...]:
    """The lesson of a second as it should sound, of whole and of floating-point samples."""
    lesson = read_lesson(LESSON, "lesson.toml", load_copedent)
    samples = np.zeros(round((2.0 * START_S + 5.0 * lesson.beat_s) * RATE_HZ))
    for note in expect(lesson.figures[0], lesson.copedent).notes:
        begin, end = (
            round((START_S + (beat - 1.0) * lesson.beat_s) * RATE_HZ) for beat in (note.start_beat, note.end_beat)
        )
        times_s = np.arange(end - begin) / RATE_HZ
        midis = note.midi_at(note.start_beat + times_s / lesson.beat_s)
        phase = 2.0 * np.pi * np.cumsum(440.0 * 2.0 ** ((midis - 69.0) / 12.0)) / RATE_HZ
        samples[begin:end] += sum(np.sin(k * phase) / k * np.exp(-(0.4 + 0.3 * k) * times_s) for k in range(1, 9)) / 8
    return tuple(_sound_file(samples, "WAV", subtype) for subtype in ("PCM_16", "FLOAT"))


@cache
def midis() -> tuple[bytes, ...]:
    """The lesson of a second, with bends, the bend range and a tempo; a pedal held; tracks; SMPTE time."""
    played, pedalled = mido.MidiTrack(), mido.MidiTrack()
    for control, value in ((101, 0), (100, 0), (6, 12), (38, 0)):
        played.append(mido.Message("control_change", channel=4, control=control, value=value))
    played.append(mido.MetaMessage("set_tempo", tempo=250_000))
    played.append(mido.Message("note_on", channel=4, note=62, velocity=90, time=240))
    played.append(mido.Message("note_on", channel=7, note=55, velocity=90, time=48))
    for step in range(13):
        played.append(mido.Message("pitchwheel", channel=4, pitch=step * 114, time=20 if step else 432))
    played.append(mido.Message("note_off", channel=7, note=55, time=240))
    played.append(mido.Message("note_on", channel=7, note=58, velocity=90))
    played.append(mido.Message("pitchwheel", channel=4, pitch=2731))
    played.append(mido.Message("note_off", channel=4, note=62, time=480))
    played.append(mido.Message("note_off", channel=7, note=58))
    pedalled.append(mido.Message("control_change", control=64, value=127))
    for key in (60, 64, 67):
        pedalled.append(mido.Message("note_on", note=key, velocity=80, time=120))
        pedalled.append(mido.Message("note_off", note=key, time=60))
    pedalled.append(mido.Message("control_change", control=123, value=0, time=200))
    files = [_saved([played]), _saved([pedalled]), _saved([played, pedalled])]
    return (*files, files[0][:12] + struct.pack(">H", 0xE728) + files[0][14:])


def midi_of(events: bytes) -> bytes:
    """A file of one track of these events with their delta times, 480 ticks a beat."""
    track = events + b"\x00\xff\x2f\x00"
    return b"MThd" + struct.pack(">LHHH", 6, 0, 1, 480) + b"MTrk" + struct.pack(">L", len(track)) + track


def _saved(tracks: list[mido.MidiTrack]) -> bytes:
    file = io.BytesIO()
    mido.MidiFile(type=int(len(tracks) > 1), ticks_per_beat=480, tracks=tracks).save(file=file)
    return file.getvalue()


def _sound_file(samples: NDArray[np.float64], name: str, subtype: str | None) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, samples, RATE_HZ, format=name, subtype=subtype)
    return file.getvalue()


def write_lesson(folder: Path) -> str:
    """The lesson of a second as a file; its path."""
    path = folder / "lesson.toml"
    path.write_text(LESSON, encoding="utf-8")
    return str(path)
