"""Held notes: computed tones to a cent, sampled guitar within 3 cents of librosa's YIN (a published reference library).

The sampled guitar is FluidR3's, played by FluidSynth: recorded notes of a real one, stiffness of its strings included.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import librosa
import mido
import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.steady import Held, SteadyEar
from livecheck.lesson.pitch import midi_of
from tests.bench.bank import soundfont
from tests.hearing.tones import tone

LONG_S = 1.6
KEYS = (40, 47, 52, 59, 64, 71, 76)


def heard(samples: NDArray[np.float32], rate_hz: int = WORK_RATE_HZ, block: int = 1000) -> list[Held]:
    ear = SteadyEar(rate_hz)
    return [held for at in range(0, len(samples), block) for held in ear.feed(samples[at : at + block])]


def in_turn(midis: list[float], pause_s: float = 0.2) -> NDArray[np.float32]:
    pause = np.zeros(round(pause_s * WORK_RATE_HZ), dtype=np.float32)
    noise = np.random.default_rng(1)
    samples = np.concatenate([part for midi in midis for part in (pause, tone(midi, LONG_S))])
    return samples + noise.normal(0.0, 1e-5, len(samples)).astype(np.float32)


@given(st.lists(st.floats(33.0, 93.0), min_size=1, max_size=3))
def test_computed_tones_to_a_cent_and_each_once(midis: list[float]) -> None:
    assert [held.midi for held in heard(in_turn(midis))] == pytest.approx(midis, abs=0.01)


def test_how_sound_is_cut_changes_nothing() -> None:
    samples = in_turn([47.3, 60.0])
    assert heard(samples, block=64) == heard(samples, block=8192)


@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
def test_any_rate(rate_hz: int) -> None:
    time_s = np.arange(2 * rate_hz) / rate_hz
    samples = sum(0.2 / k * np.sin(2.0 * np.pi * 220.0 * k * time_s) for k in range(1, 6))
    (held,) = heard(np.asarray(samples, dtype=np.float32), rate_hz)
    assert held.midi == pytest.approx(57.0, abs=0.01)


def test_the_same_string_again_needs_another_pick() -> None:
    assert len(heard(tone(57.0, 6.0))) == 1
    assert len(heard(in_turn([57.0, 57.0], pause_s=0.0))) == 2


def test_what_moves_or_has_no_pitch_is_not_held() -> None:
    clock = np.arange(3 * WORK_RATE_HZ) / WORK_RATE_HZ
    assert heard(tone(57.0 + clock / 3.0, 3.0)) == []
    assert heard(tone(57.0 + 0.2 * np.sin(2.0 * np.pi * 5.0 * clock), 3.0)) == []
    assert heard(tone(57.0, 0.6)) == [], "too short"
    assert heard(np.random.default_rng(2).normal(0.0, 0.1, 3 * WORK_RATE_HZ).astype(np.float32)) == []
    assert heard(np.zeros(3 * WORK_RATE_HZ, dtype=np.float32)) == []


def test_two_strings_at_once_are_not_clear_and_one_is() -> None:
    def unclear_s(samples: NDArray[np.float32]) -> float:
        ear = SteadyEar(WORK_RATE_HZ)
        ear.feed(samples)
        return ear.unclear_s

    assert unclear_s(tone(57.0, 3.0) + tone(62.3, 3.0)) > 2.8
    assert unclear_s(tone(57.0, 3.0)) == 0.0
    assert unclear_s(np.zeros(3 * WORK_RATE_HZ, dtype=np.float32)) == 0.0


def played(folder: Path, key: int) -> tuple[NDArray[np.float32], int]:
    """A sampled guitar's note by FluidSynth."""
    track = mido.MidiTrack(
        [mido.Message("control_change", control=0, value=8), mido.Message("program_change", program=26)]
    )
    track += [mido.Message("note_on", note=key, velocity=100), mido.Message("note_off", note=key, time=2400)]
    mido.MidiFile(ticks_per_beat=500, tracks=[track]).save(folder / "note.mid")
    call = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-r", "48000", "-F", str(folder / "note.wav")]
    subprocess.run([*call, str(soundfont()), str(folder / "note.mid")], check=True, capture_output=True)
    samples, rate_hz = soundfile.read(folder / "note.wav", dtype="float32")
    return samples.mean(axis=1), rate_hz


@pytest.mark.parametrize("key", KEYS)
def test_a_sampled_guitar_within_3_cents_of_another_pitch_tracker(tmp_path: Path, key: int) -> None:
    samples, rate_hz = played(tmp_path, key)
    (held, *_) = heard(samples, rate_hz)
    stretch = samples[round((held.time_s - 0.5) * rate_hz) : round(held.time_s * rate_hz)]
    found = librosa.yin(stretch, fmin=50.0, fmax=2000.0, sr=rate_hz, frame_length=8192, hop_length=512)
    assert 100.0 * (held.midi - midi_of(float(np.median(found)))) == pytest.approx(0.0, abs=3.0)
