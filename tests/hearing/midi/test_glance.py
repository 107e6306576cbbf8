"""Glances of MIDI notes: what sounds when, the same as an ear for audio has of the same notes."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.midi.glance import FRAMES, glances_of
from livecheck.hearing.sound.ear import AudioEar, Glance
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.salience import GRID_MIDI, HOP_S, grid_index
from tests.hearing.tones import laid, tone


def _note(midi: float, start_s: float, end_s: float, to_midi: float | None = None) -> HeardNote:
    pitches = np.array([midi, midi if to_midi is None else to_midi])
    return HeardNote(5, start_s, end_s, np.array([start_s, end_s]), pitches)


def _joined(glances: list[Glance]) -> Glance:
    rows = [(g.contrast, g.purity, g.onset, g.loud) for g in glances]
    return Glance(*(np.concatenate(parts) for parts in zip(*rows, strict=True)))


def _of(*notes: HeardNote) -> Glance:
    return _joined(list(glances_of(notes)))


def _sounding(glance: Glance, time_s: float) -> NDArray[np.float64]:
    return np.asarray(GRID_MIDI[glance.contrast[round(time_s / HOP_S)] > 0.0])


def test_a_note_is_there_from_start_to_end_within_forty_cents() -> None:
    glance = _of(_note(60.0, 1.0, 2.0), _note(66.0, 3.0, 3.5))
    assert _sounding(glance, 1.5) == pytest.approx(np.arange(59.6, 60.41, 0.1))
    assert len(_sounding(glance, 2.5)) == 0
    assert _sounding(glance, 3.2) == pytest.approx(np.arange(65.6, 66.41, 0.1))
    assert [glance.loud[round(t / HOP_S)] for t in (0.5, 1.5, 2.5, 3.2)] == [0.0, 1.0, 0.0, 1.0]


def test_a_glide_is_where_it_is() -> None:
    glance = _of(_note(60.0, 1.0, 2.0, to_midi=64.0))
    for time_s, midi in ((1.0, 60.0), (1.5, 62.0), (1.9, 63.6)):
        assert _sounding(glance, time_s).mean() == pytest.approx(midi, abs=0.05)


def test_only_a_start_is_an_onset() -> None:
    glance = _of(_note(60.0, 1.0, 2.0), _note(64.0, 1.5, 2.0, to_midi=65.0))
    times = HOP_S * np.flatnonzero(glance.onset > 0.0)
    assert all(min(abs(time_s - 1.0), abs(time_s - 1.5)) <= 1.01 * HOP_S for time_s in times)
    assert {round(2.0 * time_s) for time_s in times} == {2, 3}


def test_frames_run_from_the_start_of_the_take_to_its_last_note() -> None:
    end_s = 2.5 * FRAMES * HOP_S
    glance = _of(_note(60.0, 1.0, end_s))
    assert len(glance.loud) * HOP_S == pytest.approx(end_s, abs=3 * HOP_S)
    assert glance.loud[round(1.0 / HOP_S) : round(end_s / HOP_S) - 1].all()


def test_no_notes_are_silence() -> None:
    assert not _of().loud.any()


def test_an_ear_for_audio_has_the_same_glances_of_the_same_notes() -> None:
    notes = [_note(59.0, 0.5, 2.0), _note(64.0, 0.5, 2.0), _note(62.0, 2.5, 3.5)]
    parts = [(n.start_s, tone(float(n.midis[0]), n.end_s - n.start_s)) for n in notes]
    ear = AudioEar(WORK_RATE_HZ)
    recording = laid(parts, 4.0)
    ear.feed(recording.slice(0, len(recording)))
    ear.finish()
    audio = _joined(list(ear.glances()))
    midi = _of(*notes)
    for time_s, pitches in ((1.2, (59.0, 64.0)), (3.0, (62.0,))):
        frame = round(time_s / HOP_S)
        for pitch in pitches:
            assert audio.contrast[frame, grid_index(pitch)] > 0.7
            assert midi.contrast[frame, grid_index(pitch)] == 1.0
    for time_s in (0.3, 1.2, 2.3, 3.0):
        frame = round(time_s / HOP_S)
        assert audio.loud[frame] == midi.loud[frame]
