"""Through an overdriven amplifier, too, a figure that has just ended is told as the end of the take has it."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.engine import AudioEngine, Brief
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.judging.verdict import FigureVerdict
from livecheck.lesson.expectation import expect
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import load_copedent, load_tolerances
from tests.hearing.tones import Samples, laid, tone
from tests.judging.midi_player import figure_of, lesson_of

LESSON = read_lesson(
    lesson_of(
        figure_of(
            "a", 8, "beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5, pick = [4, 5]",
            "beat = 5, fret = 8, pick = [3, 4]", "beat = 7, fret = 8, pick = [5, 8]",
        )
        + figure_of(
            "b", 8, "beat = 1, fret = 1, pick = [4, 6]", "beat = 3, fret = 6, pick = [5, 6]",
            "beat = 5, fret = 3, pick = [6, 8]", "beat = 7, fret = 10, pick = [3, 5]",
        ),
        tempo=100,
    ),
    "lesson.toml",
    load_copedent,
)  # fmt: skip
DAMPED_S = 0.02
"""So long before the next thing on its string a string is silenced."""


def _played(names: str) -> NDArray[np.float64]:
    """Figures by the book, one after the other."""
    sounds: list[tuple[float, Samples]] = []
    at_s = 1.0
    for name in names:
        figure = next(figure for figure in LESSON.figures if figure.name == name)
        for note in expect(figure, LESSON.copedent).notes:
            start_s, end_s = (at_s + (beat - 1.0) * LESSON.beat_s for beat in (note.start_beat, note.end_beat))
            times_s = start_s + np.arange(round((end_s - DAMPED_S - start_s) * WORK_RATE_HZ)) / WORK_RATE_HZ
            midis = note.midi_at((times_s - at_s) / LESSON.beat_s + 1.0)
            sounds.append((start_s, tone(midis, len(midis) / WORK_RATE_HZ)))
        at_s += float(figure.length) * LESSON.beat_s
    recording = laid(sounds, at_s + 2.0)
    return recording.slice(0, len(recording)).astype(np.float64)


@pytest.mark.parametrize("drive", [8.0, 40.0])
def test_what_strings_mix_to_is_known_while_the_take_goes_on(drive: float) -> None:
    driven = np.tanh(drive * _played("aba") + 0.15) - np.tanh(0.15)
    engine = AudioEngine(Brief(LESSON, LESSON.figures, load_tolerances("standard")), WORK_RATE_HZ)
    told: list[FigureVerdict] = []
    for block in np.array_split((0.3 * driven).astype(np.float32), 200):
        engine.feed(block)
        told += engine.ended()
    found = engine.finish("driven.wav").figures
    assert [(figure.figure.name, figure.clean) for figure in found] == [("a", True), ("b", True), ("a", True)]
    assert [(figure.figure.name, figure.clean) for figure in told] == [("a", True), ("b", True), ("a", True)]
