"""The positions of all figures, between which a player's way is looked for.

A position is one place in a figure, `HOP_S` of the lesson's own time apart, where the pitches of all ringing strings
are known.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from livecheck.hearing.sound.salience import HOP_S, grid_index
from livecheck.lesson.expectation import Expectation

MOST_STRINGS = 6
LEAVE_COST = 20.0
"""For giving a figure up before its last checkpoint."""


class Positions:
    """All figures' positions laid end to end, two dead places before each so that nothing runs over."""

    def __init__(self, expectations: Sequence[Expectation], beat_s: float) -> None:
        self.figure: list[int] = []
        self.beat: list[float] = []
        self.first: list[int] = []
        chords: dict[tuple[int, ...], int] = {(): 0}
        chord_of: list[int] = []
        picks: list[bool] = []
        dead: list[bool] = []
        leave: list[float] = []
        for index, expectation in enumerate(expectations):
            count = max(2, round(float(expectation.figure.length) * beat_s / HOP_S))
            beats = 1.0 + np.arange(count) * float(expectation.figure.length) / count
            last = expectation.beats[-1]
            self.first.append(len(self.beat) + 3)
            self.figure += [index] * (count + 3)
            self.beat += [1.0] * 3 + beats.tolist()
            dead += [True] * 3 + [False] * count
            leave += [0.0] * 3 + np.where(beats >= last, 0.0, LEAVE_COST).tolist()
            struck = {int(np.argmin(np.abs(beats - note.start_beat))) for note in expectation.notes}
            picks += [False] * 3 + [i in struck for i in range(count)]
            pitches = np.full((len(expectation.notes), count), np.nan)
            for row, note in enumerate(expectation.notes):
                begin = float(expectation.figure.steps[note.checkpoints[0].step - 1].beat)
                inside = (beats >= begin - 1e-6) & (beats < note.end_beat - 1e-6)
                pitches[row, inside] = note.midi_at(beats[inside])
            chord_of += [0] * 3
            columns = np.where(np.isfinite(pitches), grid_index(np.nan_to_num(pitches)) // 2 * 2, -1).T.tolist()
            for column in columns:
                chord = tuple(sorted({i for i in column if i >= 0}))[:MOST_STRINGS]
                chord_of.append(chords.setdefault(chord, len(chords)))
        self.chord_of = np.array(chord_of)
        self.picks = np.flatnonzero(picks)
        self.dead = np.flatnonzero(dead)
        self.leave = np.array(leave, dtype=np.float32)
        self.beats = np.array(self.beat)
        width = max(1, *(len(chord) for chord in chords))
        self.columns = np.zeros((len(chords), width), dtype=np.int64)
        self.weights = np.zeros((len(chords), width), dtype=np.float32)
        for chord, row in chords.items():
            self.columns[row, : len(chord)] = chord
            self.weights[row, : len(chord)] = 1.0 / max(1, len(chord))
