"""A step of a figure as it should sound, in plain plucked tones: what rings around it, with its slides and pedals.

In: a figure, a copedent, a step, a tempo. Out: mono float32 samples, peaks at the level asked for.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import Note, expect
from livecheck.lesson.figure import Figure

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
    frames = round((last - first) * 60.0 / tempo * rate_hz)
    beats = first + np.arange(frames) / rate_hz * tempo / 60.0
    out = np.zeros(frames)
    for note in expect(figure, copedent).notes:
        out += _plucked(note, beats, rate_hz)
    peak = float(np.abs(out).max(initial=0.0))
    return np.asarray(out * (10.0 ** (level_db / 20.0) / peak) if peak else out, dtype=np.float32)


def _plucked(note: Note, beats: NDArray[np.float64], rate_hz: int) -> NDArray[np.float64]:
    """One string on these beats: struck when it begins, or when they do, and damped at its end."""
    sounds = (beats >= note.start_beat) & (beats < note.end_beat)
    out = np.zeros(len(beats))
    count = int(sounds.sum())
    if count == 0:
        return out
    hz = 440.0 * 2.0 ** ((note.midi_at(beats[sounds]) - 69.0) / 12.0)
    phase = 2.0 * np.pi * np.cumsum(hz) / rate_hz
    times_s = np.arange(count) / rate_hz
    partials = [np.exp(-(0.5 + 0.4 * k) * times_s) / k * np.sin(k * phase) for k in range(1, PARTIALS + 1)]
    shape = np.clip(np.minimum(times_s / 0.003, (count / rate_hz - times_s) / FADE_S), 0.0, 1.0)
    out[sounds] = shape * np.sum(partials, axis=0)
    return out
