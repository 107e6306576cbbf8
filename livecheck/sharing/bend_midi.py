"""What was heard, or what a lesson asks, as a Standard MIDI File: notes with bends, one channel and one track a string.

In: a take as it was played, or a lesson. Out: the bytes of a file of type 1 (RP-001). String n is on channel n; what no
string can be named for is on channel 16. The bend range is told by RPN 0 (MIDI 1.0 Detailed Specification, RPN 00 00),
as wide as the widest glide needs. The tempo is the take's, and second 0 of the take is tick 0. An editor that shows one
channel a string shows each string as a voice; livecheck reads such files as takes.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence

import mido
import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.midi.input import CHANNELS
from livecheck.lesson.expectation import expect
from livecheck.lesson.figure import Figure, Lesson
from livecheck.reports.played import PlayedTake

TICKS_PER_BEAT = 960
BEND_EVERY_S = 0.01
RANGES = (2, 12, 24, 48)
"""Semitones; what lies further away than the widest stays at its edge."""
MIDDLE = 8192
VELOCITY = 80
"""How loud a pick was is not measured."""
SLOWEST_US = 0xFFFFFF
"""Microseconds a quarter: a tempo event has three bytes for them."""
_LAST_BYTE = 127


def midi_of(take: PlayedTake) -> bytes:
    """The file of what was heard."""
    figures = take.verdict.figures
    marks = [(figure.start_s, figure.figure.name) for figure in figures if figure.start_s is not None]
    notes = [note for played in take.figures for note in played.notes]
    return _file(take.verdict.lesson, take.verdict.tempo or take.lesson.tempo, marks, notes)


def lesson_midi(lesson: Lesson, figures: Sequence[Figure]) -> bytes:
    """The file of what some of a lesson's figures ask, one after the other, at the lesson's tempo."""
    marks: list[tuple[float, str]] = []
    notes: list[HeardNote] = []
    start_s = 0.0
    for figure in figures:
        marks.append((start_s, figure.name))
        for note in expect(figure, lesson.copedent).notes:
            beats = np.array([note.start_beat, note.end_beat, *(beat for beat, _ in note.knots)])
            begin_s, end_s, *times_s = start_s + (beats - 1.0) * lesson.beat_s
            midis = np.array([midi for _, midi in note.knots])
            notes.append(HeardNote(note.string, float(begin_s), float(end_s), np.array(times_s), midis))
        start_s += float(figure.length) * lesson.beat_s
    quarters_per_beat = 4.0 / int(lesson.meter.partition("/")[2])
    return _file(lesson.title, lesson.tempo * quarters_per_beat, marks, notes)


def _file(title: str, tempo: float, marks: Iterable[tuple[float, str]], notes: Iterable[HeardNote]) -> bytes:
    """`tempo` is in quarters a minute; `marks` are names at times in seconds."""
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_BEAT)
    head = mido.MidiTrack()
    head.append(mido.MetaMessage("track_name", name=_ascii(title)))
    beat_us = min(round(60e6 / tempo), SLOWEST_US)
    tempo = 60e6 / beat_us  # ticks are laid by what the file says
    head.append(mido.MetaMessage("set_tempo", tempo=beat_us))
    for time_s, name in marks:
        _append(head, [(time_s, mido.MetaMessage("marker", text=_ascii(name)))], tempo)
    file.tracks.append(head)
    strings: dict[int, list[HeardNote]] = {}
    for note in notes:
        strings.setdefault(note.string if note.string and note.string <= CHANNELS else 0, []).append(note)
    for string, sounding in sorted(strings.items()):
        file.tracks.append(_track(string, sorted(sounding, key=lambda note: note.start_s), tempo))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def _track(string: int, notes: Sequence[HeardNote], tempo: float) -> mido.MidiTrack:
    channel = (string or CHANNELS) - 1
    sounding = [note for note in notes if np.isfinite(note.midis).any() and note.end_s > note.start_s]
    reach = max((_reach(note) for note in sounding), default=0.0)
    semitones = next((wide for wide in RANGES if wide >= reach), RANGES[-1])
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name=f"string {string}" if string else "other"))
    for control, value in ((101, 0), (100, 0), (6, semitones), (38, 0), (101, _LAST_BYTE), (100, _LAST_BYTE)):
        track.append(mido.Message("control_change", channel=channel, control=control, value=value))
    timed: list[tuple[float, mido.Message]] = []
    for at, note in enumerate(sounding):
        end_s = min(note.end_s, sounding[at + 1].start_s) if at + 1 < len(sounding) else note.end_s
        timed += _played(note, end_s, channel, semitones)
    _append(track, timed, tempo)
    return track


def _played(note: HeardNote, end_s: float, channel: int, semitones: int) -> Iterator[tuple[float, mido.Message]]:
    """A bend before the note, bends while it sounds, its end."""
    if end_s <= note.start_s:
        return
    times_s = note.start_s + np.arange(int((end_s - note.start_s) / BEND_EVERY_S) + 1) * BEND_EVERY_S
    known = np.isfinite(note.midis)
    midis = np.interp(times_s, note.times_s[known], note.midis[known])
    key = _key(note)
    last: int | None = None
    for at, (time_s, midi) in enumerate(zip(times_s.tolist(), midis.tolist(), strict=True)):
        bend = max(-MIDDLE, min(MIDDLE - 1, round((midi - key) / semitones * MIDDLE)))
        if bend != last:
            yield time_s, mido.Message("pitchwheel", channel=channel, pitch=bend)
            last = bend
        if at == 0:
            yield time_s, mido.Message("note_on", channel=channel, note=key, velocity=VELOCITY)
    yield end_s, mido.Message("note_off", channel=channel, note=key, velocity=0)


def _key(note: HeardNote) -> int:
    """The key nearest to the pitch at the start: later ones are bends from there."""
    first = float(note.midis[np.isfinite(note.midis)][0])
    return max(0, min(_LAST_BYTE, round(first)))


def _reach(note: HeardNote) -> float:
    """How far a note's pitch goes from its key, in semitones."""
    return float(np.abs(note.midis[np.isfinite(note.midis)] - _key(note)).max())


def _append(track: mido.MidiTrack, timed: Sequence[tuple[float, mido.Message]], tempo: float) -> None:
    """Add messages at times in seconds to a track that has none later."""
    tick = sum(message.time for message in track)
    for time_s, message in timed:
        at = max(round(max(time_s, 0.0) * tempo / 60.0 * TICKS_PER_BEAT), tick)
        track.append(message.copy(time=at - tick))
        tick = at


def _ascii(text: str) -> str:
    """Text events are ASCII (RP-001)."""
    return text.encode("ascii", "replace").decode("ascii")
