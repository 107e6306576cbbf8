"""Figures played on plucked tones by the book, but for what a test changes.

Beat 1 is at one second and a beat lasts one second, so that a beat's number is its time. Strings are those of
`e9-ten-string` unless said otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.quest import Quest
from livecheck.hearing.curves.track import Track
from livecheck.hearing.curves.tracks import track_all
from livecheck.hearing.scene import Scene, Sounding
from livecheck.hearing.score import TimedScore
from livecheck.hearing.sound.onset import Onset, onsets
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.salience import compressed
from livecheck.hearing.strokes.picks import asked_of
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import Expectation, expect
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import load_copedent
from tests.hearing.tones import Samples, laid, tone

FIGURE = """
format = 1
tempo = 60
copedent = "{copedent}"
[[figure]]
name = "a"
length = {length}
steps = [{steps}]
"""
DURATION_S = 8.0


@dataclass(frozen=True)
class Stroke:
    """One string from pick to silence, as it is played."""

    string: int
    start_s: float
    end_s: float
    knots: tuple[tuple[float, float], ...]
    """(seconds, midi), linear in between."""
    level: float = 0.1
    swell_s: float = 0.0
    partials: int = 8
    dying: float = 1.0

    def midi_at(self, times_s: NDArray[np.float64] | float) -> NDArray[np.float64]:
        xs, ys = zip(*self.knots, strict=True)
        return np.asarray(np.interp(times_s, xs, ys), dtype=np.float64)

    def samples(self) -> Samples:
        count = round((self.end_s - self.start_s) * WORK_RATE_HZ)
        pitch = self.midi_at(self.start_s + np.arange(count) / WORK_RATE_HZ)
        return tone(pitch, count / WORK_RATE_HZ, self.partials, self.level, self.swell_s, self.dying)


@dataclass(frozen=True)
class Part:
    """A figure to play."""

    copedent: Copedent
    expectation: Expectation

    @classmethod
    def of(cls, *steps: str, length: int = 6, copedent: str = "e9-ten-string") -> Part:
        """A figure from its steps as a lesson file writes them."""
        text = FIGURE.format(copedent=copedent, length=length, steps=", ".join(steps))
        lesson = read_lesson(text, "lesson.toml", load_copedent)
        return cls(lesson.copedent, expect(lesson.figures[0], lesson.copedent))

    @property
    def score(self) -> TimedScore:
        return TimedScore(self.expectation, start_s=1.0, beat_s=1.0)

    def strokes(self) -> dict[tuple[int, int], Stroke]:
        """(step, string) -> what is played by the book."""
        return {
            (note.checkpoints[0].step, note.string): Stroke(note.string, note.start_beat, note.end_beat, note.knots)
            for note in self.expectation.notes
        }

    def scene(self, strokes: Iterable[Stroke], score: TimedScore | None = None) -> Scene:
        recording = recorded(strokes)
        return Scene(recording, onsets(recording), self.copedent, score or self.score)

    def sounding(self, strokes: dict[tuple[int, int], Stroke]) -> list[Sounding]:
        """The asked strings that were played, as perfect hearing would find their picks."""
        found = []
        for asked in asked_of(self.score):
            stroke = strokes.get((asked.checkpoint.step, asked.note.string))
            if stroke is not None:
                midi = float(stroke.midi_at(stroke.start_s))
                begun = Onset(stroke.start_s, 0.5)
                found.append(Sounding(asked, begun, midi, stroke.string, stop_s=asked.note.end_beat))
        return found


def recorded(strokes: Iterable[Stroke], duration_s: float = DURATION_S) -> Recording:
    return laid([(stroke.start_s, stroke.samples()) for stroke in strokes], duration_s)


def driven(strokes: Iterable[Stroke], drive: float) -> Recording:
    """The same through a limiter, a little one-sided; `drive`: how far into it."""
    plain, heard = recorded(strokes), Recording()
    bent = np.tanh(drive * plain.slice(0, len(plain)) + 0.15) - np.tanh(0.15)
    heard.append(np.asarray(0.3 * bent, dtype=np.float32))
    return heard


def tracked(scene: Scene, sounding: Iterable[Sounding]) -> list[Track]:
    """The strings' tracks, looked for where the score has them."""
    spectra = scene.spectra
    clean = compressed(spectra.magnitudes)
    clean /= np.maximum(clean.max(axis=1, keepdims=True), np.float32(1e-9))
    quests = []
    for one in sounding:
        first, stop = spectra.span(one.onset.time_s + 0.01, one.stop_s)
        guess = np.array([scene.expected(one, float(t)) for t in spectra.times_s[first:stop]])
        quests.append(Quest(first, stop, tuple({float(guess[0]), float(guess[-1])}), guess))
    return track_all(spectra, clean, quests)
