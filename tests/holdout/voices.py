"""Strings of several makes: each turns one sound's pitch curve into samples."""

import csv
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path

import mido
import numpy as np
import soundfile

from tests.bench.bank import electric_folder, soundfont
from tests.holdout.sound import RATE, Sound, Wave, hertz

PROGRAMS = {"nylon": 24, "steel-string": 25, "jazz": 26, "clean": 27}
KEYS = range(40, 91, 2)
KEY_S = 7.0
TICKS = 960
"""A second's, at the 480 a beat and 120 beats a minute that a MIDI file has when it says nothing."""


@dataclass(frozen=True)
class Sample:
    hertz: float
    wave: Wave


def additive(rng: np.random.Generator, sound: Sound) -> Wave:
    """Stiff partials, each with its own decay (a stiff string's partials; the numbers are chosen, no source)."""
    pitch = hertz(sound.curve())
    phase = 2 * np.pi * np.cumsum(pitch) / RATE
    time = np.arange(len(pitch)) / RATE
    pluck, stiffness = rng.uniform(0.12, 0.22), 4e-5
    wave = np.zeros(len(pitch))
    for k in range(1, 17):
        stretch = k * np.sqrt(1 + stiffness * k * k)
        if pitch.max() * stretch > RATE / 2.5:
            break
        level = abs(np.sin(np.pi * k * pluck)) / k**1.1
        wave += level * np.exp(-time * (0.35 + 0.12 * k)) * np.sin(stretch * phase + rng.uniform(0, 6.28))
    return wave * np.minimum(1, time / 0.003) * 0.5


def waveguide(rng: np.random.Generator, sound: Sound) -> Wave:
    """Noise round a lossy loop (Karplus and Strong 1983), heard at a pickup: a cycle's spectrum loses at each turn."""
    curve = sound.curve()
    period = round(RATE / float(hertz(curve[:1])[0]))
    rounds = int((len(curve) / RATE * 1.6 + 1) * RATE / period)
    k = np.arange(period // 2 + 1)
    start = (
        rng.uniform(0.6, 1.2, len(k))
        * np.exp(2j * np.pi * rng.random(len(k)))
        / np.maximum(k, 1) ** 0.6
        * np.sin(np.pi * k * 0.17)
        * np.sin(np.pi * k * 0.21)
    )
    start[0] = 0
    loss = np.exp(-period / RATE * (0.4 + 0.05 * k + 0.004 * k**2))
    wave = np.concatenate([np.fft.irfft(start * loss**turn, period) for turn in range(rounds)])
    wave /= np.abs(wave[: 4 * period]).max()
    return bent(Sample(RATE / period, wave), curve) * 0.5


def bent(sample: Sample, curve: Wave) -> Wave:
    """The sample read at a varying rate."""
    place = np.cumsum(hertz(curve) / sample.hertz) - 1
    return np.asarray(np.interp(place, np.arange(len(sample.wave)), sample.wave, right=0.0), np.float64)


def measured(wave: Wave, near_hertz: float) -> float:
    """Hz, the median of the first partials' interpolated peaks."""
    part = wave[int(0.25 * RATE) : int(1.75 * RATE)]
    size = 1 << 19
    power = np.abs(np.fft.rfft(part * np.hanning(len(part)), size))
    found = []
    for k in range(1, 5):
        low, high = (int(near_hertz * k * ratio * size / RATE) for ratio in (0.975, 1.026))
        found.append((low + int(np.argmax(power[low:high]))) * RATE / size / k)
    return float(np.median(found))


def sustained(sample: Sample, wanted_s: float) -> Sample:
    """Lengthened by whole periods of its last second, each time fainter as the sample itself is."""
    loop = round(round(sample.hertz) / sample.hertz * RATE)
    fade = RATE // 10
    wave = sample.wave
    while len(wave) < wanted_s * RATE:
        more = wave[-loop - fade :] * 0.75
        ramp = np.linspace(0, 1, fade)
        wave = np.concatenate([wave[:-fade], wave[-fade:] * (1 - ramp) + more[:fade] * ramp, more[fade:]])
    return Sample(sample.hertz, wave)


@cache
def recorded() -> tuple[Sample, ...]:
    folder = electric_folder()
    with (folder / "labels.csv").open() as labels:
        return tuple(_recording(folder, row) for row in csv.DictReader(labels))


def _recording(folder: Path, row: dict[str, str]) -> Sample:
    wave, rate = soundfile.read(folder / row["file"], always_2d=True)
    mono = wave.mean(axis=1)
    again = np.interp(np.arange(0, len(mono), rate / RATE), np.arange(len(mono)), mono)
    again = again[max(int(float(row["attack_s"]) * RATE) - 96, 0) : -RATE // 5]
    again = again / np.abs(again).max()
    near = 440 * 2 ** ((float(row["midi"]) - 69) / 12)
    return sustained(Sample(measured(again, near), again), KEY_S)


@cache
def keys(program: int) -> tuple[Sample, ...]:
    """Every other key of a General MIDI program, rendered once by FluidSynth."""
    track = mido.MidiTrack([mido.Message("program_change", program=program)])
    for key in KEYS:
        track.append(mido.Message("note_on", note=key, velocity=95))
        track.append(mido.Message("note_off", note=key, time=int(KEY_S * TICKS)))
        track.append(mido.Message("note_off", note=key, time=2 * TICKS))
    with tempfile.TemporaryDirectory() as folder:
        midi, out = Path(folder, "keys.mid"), Path(folder, "keys.wav")
        mido.MidiFile(tracks=[track]).save(midi)
        call = ["fluidsynth", "-niq", "-R0", "-C0", f"-r{RATE}", "-F", str(out), str(soundfont()), str(midi)]
        subprocess.run(call, check=True, capture_output=True)
        whole = soundfile.read(out, always_2d=True)[0].mean(axis=1)
    samples = []
    for number, key in enumerate(KEYS):
        begin = int(number * (KEY_S + 2) * RATE)
        wave = whole[begin : begin + int(KEY_S * RATE)]
        wave = wave[int(np.argmax(np.abs(wave) > 0.02 * np.abs(wave).max())) :]
        near = 440 * 2 ** ((key - 69) / 12)
        samples.append(Sample(measured(wave, near), wave / np.abs(wave).max()))
    return tuple(samples)


def sampled(samples: Callable[[], tuple[Sample, ...]]) -> Callable[[np.random.Generator, Sound], Wave]:
    def voice(_: np.random.Generator, sound: Sound) -> Wave:
        curve = sound.curve()
        first = float(hertz(curve[:1])[0])
        near = min(samples(), key=lambda sample: abs(np.log(sample.hertz / first)))
        return bent(near, curve) * 0.5

    return voice


VOICES: dict[str, Callable[[np.random.Generator, Sound], Wave]] = {
    "additive": additive,
    "waveguide": waveguide,
    "recorded": sampled(recorded),
    **{name: sampled(partial(keys, program)) for name, program in PROGRAMS.items()},
}
