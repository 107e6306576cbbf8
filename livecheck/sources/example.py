"""A figure or one of its steps as it should sound, in plain plucked tones with their slides and pedals.

In: a figure, a copedent, a tempo. Out: mono float32 samples, peaks at the level asked for.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import expect
from livecheck.lesson.figure import Figure
from livecheck.lesson.pitch import A4_HZ, A4_MIDI

LEAD_BEATS, TAIL_BEATS = 1.0, 2.0
"""At most so much before the step's beat, so that a move is heard to set out, and after it."""
PARTIALS = 6
FADE_S = 0.02


def example(
    figure: Figure, copedent: Copedent, step: int, tempo: float, rate_hz: int, level_db: float
) -> NDArray[np.float32]:
    """The sound of a step, by its number; silence where it only silences strings."""
    beat = float(figure.steps[step - 1].beat)
    later = [float(one.beat) for one in figure.steps[step:]]
    last = min([beat + TAIL_BEATS, 1.0 + float(figure.length), *later[:1]])
    first = max(1.0, beat - LEAD_BEATS) if not figure.steps[step - 1].pick else beat
    return _sounding(figure, copedent, first, last - first, tempo, rate_hz, level_db)


def whole_example(
    figure: Figure, copedent: Copedent, tempo: float, rate_hz: int, level_db: float
) -> NDArray[np.float32]:
    """The sound of a whole figure, rests at its end included."""
    return _sounding(figure, copedent, 1.0, float(figure.length), tempo, rate_hz, level_db)


def plucked(hz: NDArray[np.float64], rate_hz: int) -> NDArray[np.float32]:
    """One string struck at the start and damped at the end; its frequency at every frame, shape (frames,)."""
    count = len(hz)
    cycles = np.cumsum(hz) / rate_hz
    phase = np.asarray(2.0 * np.pi * (cycles - np.floor(cycles)), dtype=np.float32)
    times_s = np.arange(count, dtype=np.float32) / np.float32(rate_hz)
    highest_hz = float(hz.max(initial=0.0))
    out = np.zeros(count, dtype=np.float32)
    for k in range(1, PARTIALS + 1):
        if k * highest_hz < rate_hz / 2:
            out += np.exp(-(0.5 + 0.4 * k) * times_s) / k * np.sin(k * phase)
    shape = np.clip(np.minimum(times_s / 0.003, (count / rate_hz - times_s) / FADE_S), 0.0, 1.0)
    return np.asarray(shape * out, dtype=np.float32)


def at_level(samples: NDArray[np.float32], level_db: float) -> NDArray[np.float32]:
    """Samples with their peaks at a level below full scale; silence stays silence."""
    peak = float(np.abs(samples).max(initial=0.0))
    return np.asarray(samples * (10.0 ** (level_db / 20.0) / peak) if peak else samples, dtype=np.float32)


def _sounding(
    figure: Figure, copedent: Copedent, first: float, length: float, tempo: float, rate_hz: int, level_db: float
) -> NDArray[np.float32]:
    """So many beats of a figure from a beat on."""
    frames = round(length * 60.0 / tempo * rate_hz)
    beats = first + np.arange(frames) / rate_hz * tempo / 60.0
    out = np.zeros(frames, dtype=np.float32)
    for note in expect(figure, copedent).notes:
        sounds = (beats >= note.start_beat) & (beats < note.end_beat)
        out[sounds] += plucked(A4_HZ * 2.0 ** ((note.midi_at(beats[sounds]) - A4_MIDI) / 12.0), rate_hz)
    return at_level(out, level_db)
