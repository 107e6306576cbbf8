"""A lesson played by somebody who makes every kind of mistake: as a MIDI file, string n on channel n, or as sound."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

import mido
import numpy as np
import soundfile
from numpy.typing import NDArray

from livecheck.lesson.expectation import expect
from livecheck.lesson.figure import Figure, Lesson

RATE_HZ = 8_000
BEND_SEMITONES = 24
BENDS_S = 0.02
TICKS_A_SECOND = 960
SHARE_WRONG = 0.1
"""How often each of the mistakes is made."""
LONGEST_SOUND_S = 15.0


@dataclass(frozen=True)
class Played:
    """One note as it was played: its pitch at even times from its start to its end."""

    string: int
    start_s: float
    end_s: float
    times_s: NDArray[np.float64]
    midis: NDArray[np.float64]


def played(lesson: Lesson, rng: Random) -> list[Played]:
    """Figures in any order, some twice, some not at all; at another tempo and tuning."""
    figures = [rng.choice(lesson.figures) for _ in range(rng.randint(1, len(lesson.figures) + 1))]
    beat_s = lesson.beat_s * rng.uniform(0.7, 1.4)
    tuning = rng.choice((0.0, rng.uniform(-0.5, 0.5)))
    start_s, notes = rng.uniform(0.0, 1.0), list[Played]()
    for figure in figures:
        notes += _figure(lesson, figure, start_s, beat_s, tuning, rng)
        start_s += float(figure.length) * beat_s + rng.choice((0.0, rng.uniform(0.0, 2.0)))
    return sorted(notes, key=lambda note: note.start_s)


def _figure(
    lesson: Lesson, figure: Figure, start_s: float, beat_s: float, tuning: float, rng: Random
) -> Iterator[Played]:
    def wrong() -> bool:
        return rng.random() < SHARE_WRONG

    for note in expect(figure, lesson.copedent).notes:
        if wrong():
            continue
        late_s = rng.gauss(0.0, 0.15 if wrong() else 0.01)
        begin_s = max(start_s + (note.start_beat - 1.0) * beat_s + late_s, 0.0)
        lasts_s = (note.end_beat - note.start_beat) * beat_s * (rng.uniform(0.1, 1.5) if wrong() else 0.97)
        times_s = np.arange(begin_s, begin_s + lasts_s, BENDS_S)
        lag_s = rng.uniform(-0.3, 0.3) if wrong() else 0.0
        midis = note.midi_at((times_s - lag_s - start_s - late_s) / beat_s + 1.0) + tuning
        off = rng.choice((-2.0, -1.0, -0.3, 0.25, 1.0, 12.0)) if wrong() else 0.0
        yield Played(note.string, begin_s, begin_s + lasts_s, times_s, midis + off)
        if wrong():
            again_s = begin_s + lasts_s * rng.random()
            later = times_s >= again_s
            yield Played(rng.choice((note.string, 1)), again_s, begin_s + lasts_s, times_s[later], midis[later])


def midi_file(lesson: Lesson, rng: Random) -> bytes:
    events: list[tuple[float, mido.Message]] = []
    for channel in range(len(lesson.copedent.strings)):
        for control, value in ((101, 0), (100, 0), (6, BEND_SEMITONES), (38, 0)):
            events.append((0.0, mido.Message("control_change", channel=channel, control=control, value=value)))
    for note in played(lesson, rng):
        if not len(note.midis):
            continue
        key, channel = int(np.clip(round(note.midis[0]), 0, 127)), note.string - 1
        for time_s, midi in zip(note.times_s, note.midis, strict=True):
            pitch = int(np.clip(round((midi - key) / BEND_SEMITONES * 8192), -8192, 8191))
            events.append((float(time_s), mido.Message("pitchwheel", channel=channel, pitch=pitch)))
        events.append((note.start_s, mido.Message("note_on", channel=channel, note=key, velocity=100)))
        events.append((note.end_s, mido.Message("note_off", channel=channel, note=key)))
    track, before = mido.MidiTrack(), 0
    for time_s, message in sorted(events, key=lambda event: event[0]):
        ticks = round(time_s * TICKS_A_SECOND)
        track.append(message.copy(time=ticks - before))
        before = ticks
    file = io.BytesIO()
    mido.MidiFile(ticks_per_beat=TICKS_A_SECOND // 2, tracks=[track]).save(file=file)
    return file.getvalue()


def sound_file(lesson: Lesson, rng: Random) -> bytes:
    """The beginning, as WAV: tones of six partials that fade, some hiss."""
    notes = [note for note in played(lesson, rng) if len(note.midis) > 1 and note.end_s < LONGEST_SOUND_S]
    samples = np.zeros(round((max((note.end_s for note in notes), default=0.0) + 0.5) * RATE_HZ))
    for note in notes:
        begin = round(note.start_s * RATE_HZ)
        times_s = np.arange(round((note.end_s - note.start_s) * RATE_HZ)) / RATE_HZ
        hz = 440.0 * 2.0 ** ((np.interp(note.start_s + times_s, note.times_s, note.midis) - 69.0) / 12.0)
        phase = 2.0 * np.pi * np.cumsum(hz) / RATE_HZ
        for partial in range(1, 7):
            audible = partial * hz < 0.45 * RATE_HZ
            fading = np.exp(-(0.4 + 0.3 * partial) * times_s) / partial
            samples[begin : begin + len(times_s)] += audible * fading * np.sin(partial * phase)
    hiss = np.random.default_rng(rng.randrange(2**32)).normal(0.0, 1e-3, len(samples))
    file = io.BytesIO()
    soundfile.write(file, 0.1 * samples + hiss, RATE_HZ, format="WAV", subtype="PCM_16")
    return file.getvalue()
