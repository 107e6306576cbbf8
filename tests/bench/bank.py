"""Banks of held notes: recordings of single notes that a voice of the benchmark plays at varying rate.

A `HeldNote` starts where its sound begins and has a constant, known pitch: each note's own f0 track is measured (YIN)
and its drift taken out once, so that what sounds later is what the truth says. Notes are mono, 48 kHz; pitch is MIDI
numbers with decimals. Measured notes are kept in the machine's folder for temporary files, never in the repository.
"""

from __future__ import annotations

import csv
import os
import subprocess
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import mido
import numpy as np
import soundfile
from numpy.typing import NDArray

from tests.bench.strings import CONE, MODELLED, plucked

RATE_HZ = 48000
SOUNDFONT = Path("sounds", "sf2", "FluidR3_GM.sf2")
"""Where Debian's fluid-soundfont-gm puts it, in one of the system's data folders (XDG base directories)."""
CACHE = Path(tempfile.gettempdir()) / "livecheck-bench" / "bank-4"
PROGRAMS = {
    "steel": (8, 26), "nylon": (0, 24), "acoustic": (0, 25), "jazz": (0, 26), "clean": (0, 27),
    "banjo": (0, 105), "shamisen": (0, 106), "koto": (0, 107),
}  # fmt: skip
"""Bank and program of the soundfont's voices."""
STRINGS = {"modelled": MODELLED, "cone": CONE}
"""Strings from physics, on a wooden body and on a resonator's cone."""
KEYS = range(33, 97)
HELD_S = 8.0
PRE_S = 0.001
FADE_S = 0.25
"""At a recording's end, so that it does not stop with a click."""
PERIODIC = 0.99
"""A frame less like itself one period later holds so much noise (20 dB under the string, and more) that YIN reads it,
not the string, some cents off at first and tens of cents further down."""
BEGINS_AT = 0.03
"""A sound begins where it first reaches this share of its loudest sample within the first tenth of a second."""

Samples = NDArray[np.float32]


@dataclass(frozen=True)
class HeldNote:
    midi: float
    samples: Samples
    """The sound begins `PRE_S` after the first sample."""


@dataclass(frozen=True)
class Bank:
    name: str
    notes: tuple[HeldNote, ...]

    def nearest(self, midi: float) -> HeldNote:
        return min(self.notes, key=lambda note: abs(note.midi - midi))


@cache
def bank(name: str) -> Bank:
    """The bank of an instrument.

    A soundfont voice; strings from physics; `electric`, from a real guitar; `computed`, sums of sines.
    """
    if name == "computed":
        return Bank(name, tuple(_computed(float(key)) for key in KEYS))
    CACHE.mkdir(parents=True, exist_ok=True)
    stored = CACHE / f"{name}.npz"
    if not stored.exists():
        notes = list(_notes(name))
        partial = stored.with_name(f"{name}-{np.random.default_rng().integers(1 << 30)}.npz")
        kept_as: dict[str, Any] = {f"n{i}": note.samples for i, note in enumerate(notes)}
        np.savez(partial, midis=[note.midi for note in notes], **kept_as)
        partial.rename(stored)
    with np.load(stored) as kept:
        return Bank(name, tuple(HeldNote(float(midi), kept[f"n{i}"]) for i, midi in enumerate(kept["midis"])))


def names() -> tuple[str, ...]:
    return (*PROGRAMS, *STRINGS, "electric", "computed")


def _notes(name: str) -> Iterable[HeldNote]:
    if name == "electric":
        return _recorded()
    if name in STRINGS:
        # A tenth of a second before, as recordings have it.
        return (
            _flattened(np.pad(plucked(key, STRINGS[name], HELD_S, RATE_HZ), (RATE_HZ // 10, 0)), float(key))
            for key in KEYS
        )
    return _synthesised(*PROGRAMS[name])


def _computed(midi: float) -> HeldNote:
    """Twelve harmonics that die away, the higher the sooner. Pitch and beginning are exact, and it needs no files."""
    times = np.arange(round(HELD_S * RATE_HZ)) / RATE_HZ - PRE_S
    hz = 440.0 * 2.0 ** ((midi - 69.0) / 12.0)
    sound = np.zeros(len(times))
    for harmonic in range(1, 13):
        if harmonic * hz < 0.45 * RATE_HZ:
            sound += np.exp(-times * (0.35 + 0.25 * harmonic)) / harmonic * np.sin(2.0 * np.pi * harmonic * hz * times)
    sound *= np.clip(times / 0.002, 0.0, 1.0)
    return HeldNote(midi, (sound / np.abs(sound).max()).astype(np.float32))


def soundfont() -> Path:
    """Where FluidR3 is, by the data folders that the XDG base directory specification names; FileNotFoundError if it is
    in none."""
    folders = os.environ.get("XDG_DATA_DIRS") or "/usr/local/share:/usr/share"
    found = [path for folder in folders.split(":") if (path := Path(folder) / SOUNDFONT).exists()]
    if not found:
        raise FileNotFoundError(
            f"{SOUNDFONT} is in no data folder; wanted FluidR3, such as Debian's fluid-soundfont-gm"
        )
    return found[0]


def _synthesised(bank_number: int, program: int) -> Iterable[HeldNote]:
    file = mido.MidiFile(ticks_per_beat=1000)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=1_000_000))
    track.append(mido.Message("control_change", control=0, value=bank_number))
    track.append(mido.Message("program_change", program=program, time=500))
    for key in KEYS:
        track.append(mido.Message("note_on", note=key, velocity=100, time=500))
        track.append(mido.Message("note_off", note=key, time=round(1000 * HELD_S)))
        track.append(mido.Message("control_change", control=120, value=0, time=500))
    with tempfile.TemporaryDirectory() as folder:
        midi, wave = Path(folder) / "keys.mid", Path(folder) / "keys.wav"
        file.save(midi)
        command = ["fluidsynth", "-ni", "-q", "-g", "0.6", "-R", "0", "-C", "0", "-r", str(RATE_HZ)]
        subprocess.run([*command, "-F", str(wave), str(soundfont()), str(midi)], check=True, capture_output=True)
        sound, _ = soundfile.read(wave, dtype="float32")
    mono = sound.mean(axis=1)
    for index, key in enumerate(KEYS):
        start = 1.0 + index * (HELD_S + 1.0)
        held = mono[round((start - 0.1) * RATE_HZ) : round((start + HELD_S - 0.05) * RATE_HZ)]
        yield _flattened(held, float(key))


def _recorded() -> Iterable[HeldNote]:
    import soxr

    folder = electric_folder()
    with (folder / "labels.csv").open(encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    for row in rows:
        sound, rate_hz = soundfile.read(folder / row["file"], dtype="float32", always_2d=True)
        yield _flattened(soxr.resample(sound.mean(axis=1), rate_hz, RATE_HZ), float(row["midi"]))


def electric_folder() -> Path:
    """Where the recorded notes are: a folder named by the environment, else beside the checkout."""
    return Path(os.environ.get("LIVECHECK_NOTES", Path(__file__).parents[3] / "shared" / "data" / "electric-notes"))


def _flattened(sound: Samples, nominal: float) -> HeldNote:
    """Trimmed to where it begins, and played at a rate that takes its drift out."""
    loudest = float(np.abs(sound).max())
    rough = int(np.argmax(np.abs(sound) > 0.2 * loudest))
    peak = float(np.abs(sound[rough : rough + RATE_HZ // 10]).max())
    begin = int(np.argmax(np.abs(sound) > BEGINS_AT * peak))
    sound = sound[max(0, begin - round(PRE_S * RATE_HZ)) :] / np.float32(peak)
    centres_s, offs = track(sound, nominal)
    levelled = np.interp(np.arange(len(sound)) / RATE_HZ, centres_s, offs)
    # Where the n-th sample of the flat note is found in the recorded one: its pitch divided out, sample by sample.
    speed = 2.0 ** (-levelled / 12.0)
    position = np.interp(
        np.arange(len(sound)), np.concatenate(([0.0], np.cumsum(1.0 / speed)[:-1])), np.arange(len(sound))
    )
    flat = read_at(sound, position[position < len(sound) - 2])
    fade = round(FADE_S * RATE_HZ)
    flat[-fade:] *= np.linspace(1.0, 0.0, fade)
    return HeldNote(nominal, flat.astype(np.float32))


def track(sound: Samples, nominal: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Semitones off the nominal pitch against time, by YIN, smoothed over about a fifth of a second; as far as the
    string stands out of the recording's noise."""
    import librosa
    import soxr

    factor = 4 if nominal > 70 else 2
    fine = soxr.resample(sound, RATE_HZ, factor * RATE_HZ, quality="HQ")
    hz = 440.0 * 2.0 ** ((nominal - 69.0) / 12.0)
    frame = 4096 * factor
    hop = 512 * factor
    f0 = librosa.yin(
        fine, fmin=hz / 1.12, fmax=hz * 1.12, sr=factor * RATE_HZ, frame_length=frame, hop_length=hop, center=True
    )
    offs = 12.0 * np.log2(f0 / hz)
    offs = np.where(np.abs(offs) < 1.0, offs, np.nan)
    times = np.arange(len(offs)) * hop / (factor * RATE_HZ)
    usable = np.isfinite(offs) & (times > 0.045) & (times < len(sound) / RATE_HZ - 0.06)
    times, offs, f0 = times[usable], offs[usable], f0[usable]
    periodic = [
        _periodicity(fine, round(time_s * factor * RATE_HZ), frame, round(factor * RATE_HZ / tone_hz))
        for time_s, tone_hz in zip(times, f0, strict=True)
    ]
    heard = np.flatnonzero(np.array(periodic) >= PERIODIC)
    if len(heard):
        times, offs = times[: heard[-1] + 1], offs[: heard[-1] + 1]
    width = 17
    padded = np.pad(offs, width // 2, mode="edge")
    medians = np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1)
    return times, medians


def _periodicity(sound: Samples, centre: int, frame: int, period: int) -> float:
    """How much a frame is like itself one period later: the normalised correlation of both, at most 1."""
    here = sound[max(0, centre - frame // 2) : centre + frame // 2].astype(np.float64)
    now, later = here[:-period], here[period:]
    return float(now @ later) / max(float(np.sqrt((now @ now) * (later @ later))), 1e-12)


def read_at(sound: Samples, position: NDArray[np.float64]) -> NDArray[np.float64]:
    """Cubic (Catmull-Rom) interpolation of a sound at fractional sample positions; silence beyond its end."""
    whole = np.floor(position).astype(np.int64)
    part = position - whole
    padded: NDArray[np.float64] = np.concatenate((np.zeros(1), sound.astype(np.float64), np.zeros(3)))
    whole = np.minimum(whole, len(sound) - 1)
    a, b, c, d = (padded[whole + k] for k in range(4))
    inside = position < len(sound)
    curve = b + 0.5 * part * (c - a + part * (2 * a - 5 * b + 4 * c - d + part * (3 * (b - c) + d - a)))
    return np.where(inside, curve, 0.0)
