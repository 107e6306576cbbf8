"""General pitch tools asked for the same held notes: how many they get within 50 and within 10 cents of the truth.

The takes are clean and dry. A held note is the settled part of a checkpoint. A single-pitch tracker is asked for its
median there; a transcriber for the nearest of the notes that sound at the middle of it, by the median of what that note
has there, the constant offset of all taken out. Livecheck's own row is the same question put to its report.
"""

from __future__ import annotations

import json
import os
import subprocess
import tempfile
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from tests.bench import grading
from tests.bench.bank import RATE_HZ
from tests.bench.take import Take, make

PEER_PYTHON = os.environ.get("LIVECHECK_PEER_PYTHON")
"""An interpreter that has the transcriber; without it that row is left out."""
LOWEST_HZ, HIGHEST_HZ = 55.0, 1760.0

Samples = NDArray[np.float32]


@dataclass(frozen=True)
class Held:
    """One held note of the truth."""

    figure: str
    attempt: int
    step: int
    string: int
    start_s: float
    end_s: float
    midi: float


def held_notes(take: Take, instrument: str) -> list[Held]:
    found = []
    for figure in take.truth(instrument)["figures"]:
        for row in figure["checkpoints"]:
            if row["heard_midi"] is None or row["heard_s"] is None or row["level_db"] < -45.0:
                continue
            later = [o["expected_s"] for o in figure["checkpoints"] if o["expected_s"] > row["expected_s"] + 0.01]
            until_s = min([row["ended_s"], *(at_s - 0.2 for at_s in later)])
            start_s = row["heard_s"] + 0.06
            if until_s - start_s > 0.08:
                which = (figure["figure"], figure["attempt"], row["step"], row["string"])
                found.append(Held(*which, start_s, until_s, row["heard_midi"]))
    return found


def rows(set_name: str, instrument: str, seeds: Sequence[int]) -> dict[str, NDArray[np.float64]]:
    """Each tool's errors in cents; NaN where it heard nothing."""
    takes = [make(set_name, seed, clean=True) for seed in seeds]
    sounds = [take.sound(instrument) for take in takes]
    held = [held_notes(take, instrument) for take in takes]
    trackers: dict[str, Callable[[Samples], tuple[NDArray[np.float64], NDArray[np.float64]]]] = {
        "aubio yinfast": _aubio,
        "librosa pyin": _pyin,
    }
    errors = {"livecheck": np.concatenate([_livecheck(*each) for each in zip(takes, sounds, held, strict=True)])}
    for name, tracker in trackers.items():
        found = [_tracked(tracker(sound), notes) for sound, notes in zip(sounds, held, strict=True)]
        errors[name] = np.concatenate(found)
    if PEER_PYTHON:
        errors["basic-pitch"] = _transcribed(sounds, held)
    return errors


def shares(errors_cents: NDArray[np.float64]) -> tuple[float, float]:
    """Percentages within 50 and within 10 cents."""
    size = np.abs(np.nan_to_num(errors_cents, nan=1e6))
    return 100.0 * float(np.mean(size <= 50.0)), 100.0 * float(np.mean(size <= 10.0))


def _livecheck(take: Take, sound: Samples, held: Sequence[Held]) -> NDArray[np.float64]:
    heard = {
        (figure["figure"], figure["attempt"], row["step"], row["string"]): row["heard_midi"]
        for figure in grading.grade_audio(take, sound)["figures"]
        for row in figure["checkpoints"]
    }
    values = [heard.get((note.figure, note.attempt, note.step, note.string)) for note in held]
    return np.array(
        [np.nan if value is None else 100.0 * (value - note.midi) for value, note in zip(values, held, strict=True)]
    )


def _tracked(curve: tuple[NDArray[np.float64], NDArray[np.float64]], held: Sequence[Held]) -> NDArray[np.float64]:
    times, midis = curve
    errors = []
    for note in held:
        inside = midis[(times >= note.start_s) & (times <= note.end_s)]
        inside = inside[np.isfinite(inside)]
        errors.append(100.0 * (float(np.median(inside)) - note.midi) if len(inside) else np.nan)
    return np.array(errors)


def _aubio(sound: Samples) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    import aubio

    window, hop = 2048, 256
    detector = aubio.pitch("yinfast", window, hop, RATE_HZ)
    padded = np.pad(sound, (window // 2, window))
    starts = range(0, len(sound), hop)
    found = np.array([float(detector(padded[s : s + hop])[0]) for s in starts])
    # aubio's window ends with the block that it was given.
    times = (np.array(starts) + hop - window // 2 - window // 2) / RATE_HZ
    return times, _midi_of(found)


def _pyin(sound: Samples) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    import librosa

    hop = 1024
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found, _, _ = librosa.pyin(
            sound, fmin=LOWEST_HZ, fmax=HIGHEST_HZ, sr=RATE_HZ, frame_length=4096, hop_length=hop, fill_na=np.nan
        )
    return np.arange(len(found)) * hop / RATE_HZ, _midi_of(found)


def _midi_of(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(hz > 0.0, 69.0 + 12.0 * np.log2(hz / 440.0), np.nan)


def _transcribed(sounds: Sequence[Samples], held: Sequence[Sequence[Held]]) -> NDArray[np.float64]:
    with tempfile.TemporaryDirectory() as folder:
        files = [Path(folder) / f"{index}.wav" for index in range(len(sounds))]
        for file, sound in zip(files, sounds, strict=True):
            soundfile.write(file, sound, RATE_HZ)
        script = Path(__file__).with_name("peer_transcriber.py")
        command = [str(PEER_PYTHON), str(script), *map(str, files)]
        result = subprocess.run(command, check=True, capture_output=True)
    errors = []
    for notes, wanted in zip(json.loads(result.stdout), held, strict=True):
        for note in wanted:
            middle_s = (note.start_s + note.end_s) / 2.0
            near = [100.0 * (_bent(n, note) - note.midi) for n in notes if n[0] <= middle_s <= n[1]]
            errors.append(min(near, key=abs, default=np.nan))
    found = np.array(errors)
    close = found[np.abs(np.nan_to_num(found, nan=1e6)) < 80.0]
    return np.asarray(found - np.median(close)) if len(close) else found


def _bent(note: tuple[float, float, list[float]], held: Held) -> float:
    """The middle of what a transcribed note has while another is held."""
    start_s, end_s, pitches = note
    rate = len(pitches) / max(1e-6, end_s - start_s)
    first, last = int((held.start_s - start_s) * rate), int((held.end_s - start_s) * rate)
    return float(np.median(pitches[max(0, first) : max(0, last) + 1]))
