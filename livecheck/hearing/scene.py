"""The sound around one attempt, with the questions that listening asks of it.

A `Scene` holds the spectra of one stretch of the take, its onsets, and the score that says what should sound there; a
`Sounding` is a string that was found struck. Seconds from the start of the take, MIDI numbers as it sounded, levels in
dB of full scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.median import median
from livecheck.hearing.score import TimedScore
from livecheck.hearing.sound.mixing import mixtures
from livecheck.hearing.sound.moment import AFTER_S, FULL_RISE, LONGEST_S, Moment, low_hz
from livecheck.hearing.sound.moments import Moments
from livecheck.hearing.sound.onset import Onset
from livecheck.hearing.sound.partials import (
    GUARD_BINS,
    NO_TONES,
    Peaks,
    free_partials,
    hz,
    partials_hz,
    support,
    supports,
)
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.spectrum import Spectrogram, loudest_near, spectrogram
from livecheck.hearing.strokes.picks import MASKED_FREE, Asked, Struck
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Step
from livecheck.lesson.pitch import hz_of

WINDOW = 2048
HOP = 256
MARGIN_S = 1.0
SLIP_SEMITONES = 0.6
"""A string that far from its pitch was struck elsewhere, and is expected to stay as far off."""
STRAY_KNOWN_S = 1.5
"""So long after it was struck the pitch of a stray is thought to be the same."""
THERE = 0.35
QUIET_DB, PAUSE_DB = 40.0, 25.0
"""An onset so far below the loudest is the noise of a silence; that which wavers there may be so far below it."""
PAUSE_S, WAVERS_DB = 0.1, 2.0
"""What hums and hisses in a pause is for so short a time so much louder than where it is softest."""
SOFTEST_DB = 15.0
"""What is softer than the picks by more is not struck by a hand that plays; strays and picks of one take lie within 12
dB, nine in ten onsets of a band 20 dB below the player lie 15 dB below the picks and more."""
LEAST_BACKGROUND = 4
BEGUN_S = 0.01
"""An onset's sound may have begun so much before the time that is read for it."""
HUSHED_BEFORE_S, HUSHED_S = np.array([0.06, 0.045, 0.03]), 0.03
"""When before an onset, and for how long, all is silent between the strings of a hand that silences the first ones,"""
RANG_S = 0.2
"""and when these still ring."""
DEEP_S = 4.0 * AFTER_S
"""So far reaches the longer window by which strings are told apart whose partials lie close."""
_LEVEL_PARTIALS = 6


@dataclass(eq=False)
class Sounding:
    """A string that was found struck, while it is being worked out."""

    asked: Asked
    onset: Onset
    midi: float
    """As it sounds right after the pick."""
    string: int
    stop_s: float = 0.0
    """How far it is followed."""
    due_s: float = 0.0
    """When it should end: that is later where the next attempt begins before."""

    @property
    def slip(self) -> float:
        """Semitones by which it sounds elsewhere than asked, if it does."""
        off = self.midi - self.asked.midi
        return off if abs(off) > SLIP_SEMITONES else 0.0


def _loud_db(recording: Recording, start_s: float, until_s: float) -> float:
    """Level of what sounds from an onset until the next one at the latest, which the spectrum of so short a time would
    hear as well."""
    stop_s = min(start_s + LONGEST_S, until_s - BEGUN_S)
    samples = recording.slice(round(start_s * WORK_RATE_HZ), round(max(stop_s, start_s + BEGUN_S) * WORK_RATE_HZ))
    return float(10.0 * np.log10(max(float(np.var(samples, dtype=np.float64)), 1e-14)))


def _softest_db(recording: Recording, from_s: float, until_s: float) -> float:
    """Level of what sounds where a part of a take is softest."""
    return min((_loud_db(recording, at_s, math.inf) for at_s in np.arange(from_s, until_s, PAUSE_S)), default=-math.inf)


def _is_followed(onset: Onset, others: Sequence[Onset]) -> bool:
    """Whether what is struck next comes so soon that the longer window hears it as well."""
    return any(0.0 < other.time_s - onset.time_s < DEEP_S and other.rise >= FULL_RISE for other in others)


def softest_db(moments: Sequence[Moment], picks: int) -> float:
    """The least that a hand brings by a stroke which brings what it does in a figure that asks for so many picks; only
    where something was struck."""
    return median(_loudest_db(moments, picks)) - SOFTEST_DB


def _loudest_db(moments: Sequence[Moment], picks: int) -> list[float]:
    """How much the loudest onsets bring, as many as there are picks, in order."""
    return sorted(moment.new_db for moment in moments)[-max(1, picks) :]


def without_background(moments: Sequence[Moment], picks: int) -> list[Moment]:
    """The onsets without those of other players, rattle or noise, if there is such a thing: many onsets that bring much
    less than the picks do. One soft touch is no background.

    `picks`: how many the figure asks for.
    """
    if not moments:
        return []
    # Of two picks that are asked for one may be missing: then the louder one tells.
    loudest_db = _loudest_db(moments, picks)
    least_db = loudest_db[len(loudest_db) // 2] - SOFTEST_DB
    clear = [moment for moment in moments if moment.new_db >= least_db]
    return clear if len(moments) - len(clear) >= max(LEAST_BACKGROUND, picks) else list(moments)


class Scene:
    """One attempt's sound and score."""

    def __init__(
        self,
        recording: Recording,
        onsets: Sequence[Onset],
        copedent: Copedent,
        score: TimedScore,
        known: Moments | None = None,
        next_s: float = math.inf,
    ) -> None:
        """`known`: what was worked out for other scenes of the recording, which is added to. `next_s`: when the next
        attempt begins, of which the spectra may hold something."""
        self.recording = recording
        self.copedent = copedent
        self.score = score
        self.next_s = next_s
        self.strays: Sequence[HeardNote] = ()
        """What was struck that nobody asked for, once that is known."""
        self._driven = False
        figure = score.expectation.figure
        start_s = max(0.0, score.start_s - MARGIN_S)
        stop_s = min(score.time_s(1.0 + float(figure.length)) + MARGIN_S, recording.duration_s)
        self.spectra = spectrogram(recording, start_s, max(stop_s, start_s + 0.1), WINDOW, HOP)
        self.deep = spectrogram(recording, start_s, max(stop_s, start_s + 0.1), 2 * WINDOW, HOP)
        near = [onset for onset in onsets if start_s < onset.time_s < stop_s]
        ends = [onset.time_s for onset in near[1:]] + [stop_s]
        levels_db = [_loud_db(recording, o.time_s, end) for o, end in zip(near, ends, strict=False)]
        self._loudest_db = max(levels_db, default=-math.inf)
        self._from_s, self._until_s = start_s, stop_s
        picks = sum(bool(step.pick) for step in figure.steps)
        known = Moments() if known is None else known
        loud = [
            known.at(onset, end, self.spectra, None if _is_followed(onset, near) else self.deep)
            for onset, end, level_db in zip(near, ends, levels_db, strict=False)
            if not self._is_noise(level_db)
        ]
        self.moments = without_background(loud, picks)
        self.softest_db = softest_db(loud, picks) if loud else 0.0
        """What is struck brings so much at least."""
        others = [moment for moment in loud if all(moment is not kept for kept in self.moments)]
        self.background = [moment.onset for moment in others]
        """The onsets of what others play, or of what rattles, in between."""
        self.background_db = median(np.array([moment.new_db for moment in others])) if others else -math.inf
        """How much the middle one of them brings."""
        self._peaks: dict[tuple[Spectrogram, int], Peaks] = {}
        """Spectra and frame -> its peaks, where they were asked for."""
        self._ways: dict[int, tuple[list[float], list[float]]] = {}
        """String -> its way, the same."""

    @property
    def has_background(self) -> bool:
        """Whether others play, or something rattles, in between."""
        return bool(self.background)

    def moment_of(self, onset: Onset) -> Moment | None:
        """The moment of an onset; None where a string came without one."""
        return next((moment for moment in self.moments if moment.onset is onset), None)

    def is_silence(self, time_s: float) -> bool:
        """Whether what sounds from a time on is no more than the noise of a silence, beside what was struck."""
        return self._is_noise(_loud_db(self.recording, time_s, math.inf))

    def _is_noise(self, level_db: float) -> bool:
        return level_db < self._loudest_db - PAUSE_DB and level_db < self._faintest_db

    @cached_property
    def _faintest_db(self) -> float:
        """Softer is nothing but the noise of a silence; it takes a while to know, and is seldom asked."""
        noise_db = _softest_db(self.recording, self._from_s, self._until_s - LONGEST_S) + WAVERS_DB
        return max(self._loudest_db - QUIET_DB, min(noise_db, self._loudest_db - PAUSE_DB))

    def is_hushed_before(self, onset: Onset) -> bool:
        """Whether all that sounds shortly before an onset is for a moment much softer than it was and than what the
        onset brings: what rang until then has ended. What has faded so far may ring on."""
        starts_s = (onset.time_s - HUSHED_BEFORE_S).tolist()
        hushed_db = min(_loud_db(self.recording, start_s, start_s + HUSHED_S) for start_s in starts_s)
        around_s = (onset.time_s - RANG_S, onset.time_s)
        return hushed_db < min(_loud_db(self.recording, start_s, math.inf) for start_s in around_s) - SOFTEST_DB

    def is_crowded(self, asked: Asked) -> bool:
        """Whether the partials of a string lie so close that those which should sound with it leave it few."""
        crowd = min(1, len(asked.others)) if self._driven else len(asked.others)
        return hz_of(asked.midi) < crowd * low_hz(self.spectra.bin_hz)

    def together(self, struck: Sequence[Struck | None]) -> list[tuple[Moment, tuple[float, ...]]]:
        """The strings that were struck together, and those that should ring beside them, with the moment, in order."""
        together: dict[int, list[float]] = {}
        for one in struck:
            if one is not None:
                together.setdefault(one.moment, []).append(one.evidence.midi)
        for one in struck:
            if one is not None:
                here = together[one.moment]
                here += [midi for midi in one.asked.others if all(abs(midi - m) > SLIP_SEMITONES for m in here)]
        return [(self.moments[place], tuple(midis)) for place, midis in sorted(together.items())]

    def mark_driven(self) -> None:
        """From here on sums and differences of strings are no partials of any other."""
        self._driven = True
        self.moments = [replace(moment, driven=True) for moment in self.moments]

    @property
    def offset(self) -> float:
        """Semitones by which the take is tuned away from the lesson."""
        return self.score.tuning_cents / 100.0

    @property
    def strings(self) -> set[int]:
        """The numbers of all strings of the neck."""
        return set(range(1, len(self.copedent.strings) + 1))

    def step(self, number: int) -> Step:
        return self.score.expectation.figure.steps[number - 1]

    def step_at(self, time_s: float, early_beats: float) -> Step:
        """The last step whose beat has come, or will come within a few beats; the first, before that."""
        beat = (time_s - self.score.start_s) / self.score.beat_s + 1.0
        steps = self.score.expectation.figure.steps
        return max((s for s in steps if float(s.beat) <= beat + early_beats), key=lambda s: s.number, default=steps[0])

    def stance_midi(self, string: int, time_s: float) -> float:
        """Where bar and pedals have a string at a time, whether or not it should sound."""
        return self.step_at(time_s, 0.02).stance.midi(string, self.copedent) + self.offset

    def carried_midi(self, string: int, times_s: NDArray[np.float64], written: bool = False) -> NDArray[np.float64]:
        """Where bar and pedals take a string at some times, whether or not it should sound, glides included; as they
        were followed, or as the figure's line has it."""
        return self.carried_midis([string], times_s, written)[0]

    def carried_midis(
        self, strings: Sequence[int], times_s: NDArray[np.float64], written: bool = False
    ) -> list[NDArray[np.float64]]:
        """The same for each of some strings."""
        beats = self.score.written_at(times_s) if written else self.score.beats_at(times_s)
        for string in strings:
            if string not in self._ways:
                self._ways[string] = self._way(string)
        return [np.asarray(np.interp(beats, *self._ways[string]) + self.offset) for string in strings]

    def _way(self, string: int) -> tuple[list[float], list[float]]:
        """Beats, and where bar and pedals have a string at each."""
        steps = self.score.expectation.figure.steps
        beats, midis = [float(steps[0].beat)], [steps[0].stance.midi(string, self.copedent)]
        for step in steps[1:]:
            beats += [max(float(step.beat - step.over), beats[-1]), float(step.beat)]
            midis += [midis[-1], step.stance.midi(string, self.copedent)]
        return beats, midis

    def expected(self, one: Sounding, time_s: float) -> float:
        """Where the score has a sounding string at a time, the slip that it began with kept."""
        return float(self.course(one, np.array(time_s)))

    def course(self, one: Sounding, times_s: NDArray[np.float64], written: bool = False) -> NDArray[np.float64]:
        """The same at some times, as it was followed or as the figure's line has it; same shape."""
        beats = self.score.written_at(times_s) if written else self.score.beats_at(times_s)
        return one.asked.note.midi_at(beats) + self.offset + one.slip

    def others_at(self, one: Sounding, time_s: float, sounding: Sequence[Sounding]) -> list[float]:
        """The pitches of the other strings that should sound at a time, and of what was struck beside them."""
        beat = self.score.beats_at(np.array(time_s))
        pitches = [
            float(other.asked.note.midi_at(beat)) + self.offset + other.slip
            for other in sounding
            if other is not one and other.onset.time_s < time_s + 0.04 and time_s < other.stop_s + 0.05
        ]
        return pitches + [
            float(stray.midis[0]) for stray in self.strays if 0.0 < time_s + 0.04 - stray.start_s < STRAY_KNOWN_S
        ]

    def level_db(self, time_s: float, midi: float, others: Sequence[float]) -> float | None:
        """Level of a pitch's free partials at a time; None where fewer than two are free."""
        row = self.spectra.row(self.spectra.frame_at(time_s))
        level_db = float(self._levels_db(self.spectra, row, np.array([midi]), others)[0])
        return None if np.isnan(level_db) else level_db

    def _levels_db(
        self,
        spectra: Spectrogram,
        row: NDArray[np.float32],
        midis: NDArray[np.float64],
        others: Sequence[float],
    ) -> NDArray[np.float32]:
        """The same for some pitches, by one or more rows of some spectra; NaN where fewer than two are free."""
        free = free_partials(midis, others, spectra.bin_hz, self._mixed_hz(others))[:, :_LEVEL_PARTIALS]
        level = loudest_near(row, partials_hz(midis)[:, :_LEVEL_PARTIALS], spectra.bin_hz)
        count = free.sum(axis=1)
        power = (level * level * free).sum(axis=-1) / np.maximum(count, 1).astype(np.float32)
        found: NDArray[np.float32] = 10.0 * np.log10(np.maximum(power, 1e-14))
        found[..., count < 2] = np.nan
        return found

    def heard_db(self, times_s: Sequence[float], midi: float, others: Sequence[float]) -> list[tuple[float, bool]]:
        """The level of a pitch at some times, and whether it sounds at each; empty where fewer than two partials are
        free."""
        frames = [self.spectra.frame_at(time_s) for time_s in times_s]
        rows = np.stack([self.spectra.row(frame) for frame in frames])
        levels_db = self._levels_db(self.spectra, rows, np.array([midi]), others)[:, 0].tolist()
        if any(math.isnan(level_db) for level_db in levels_db):
            return []
        peaks = [self._peaks_at(self.spectra, frame) for frame in frames]
        presences = supports(peaks, midi, others, self._mixed_hz(others))
        return [(level_db, presence > THERE) for level_db, presence in zip(levels_db, presences, strict=True)]

    def is_there(self, time_s: float, midi: NDArray[np.float64] | float, others: Sequence[float]) -> bool:
        """Whether a pitch, or any of some, sounds at a time, by the partials that others leave free; where these are
        too few, it does not."""
        return self._is_in(self._peaks_at(self.spectra, self.spectra.frame_at(time_s)), midi, others)

    def sounds(
        self, time_s: float, midis: NDArray[np.float64], others: Sequence[float], least_db: float, most_db: float
    ) -> bool:
        """Whether any of some pitches sounds at a time with a level in between, by the usual window or by the longer
        one, in which strings that lie close together leave each other more partials."""

        def sounds_in(spectra: Spectrogram, some: NDArray[np.float64]) -> bool:
            if not len(some):
                return False
            frame = spectra.frame_at(time_s)
            levels_db = self._levels_db(spectra, spectra.row(frame), some, others)
            loud = some[(levels_db >= least_db) & (levels_db < most_db)]
            return self._is_in(self._peaks_at(spectra, frame), loud, others)

        return sounds_in(self.spectra, midis) or sounds_in(self.deep, midis[self._is_close(midis, others)])

    def _is_close(self, midis: NDArray[np.float64], others: Sequence[float]) -> NDArray[np.bool_]:
        """Which pitches are low, or have another string so near that the lowest partials of both melt into one in the
        usual window."""
        off_hz = np.abs(hz(midis)[:, None] - hz(np.array(others, dtype=np.float64)))
        melted = (off_hz < GUARD_BINS * self.spectra.bin_hz).any(axis=1)
        return np.asarray((hz(midis) < low_hz(self.spectra.bin_hz)) | melted)

    def _is_in(self, peaks: Peaks, midi: NDArray[np.float64] | float, others: Sequence[float]) -> bool:
        found = support(peaks, np.atleast_1d(midi), others, self._mixed_hz(others))
        return bool(((found.presence > THERE) & (found.free >= MASKED_FREE)).any())

    def _mixed_hz(self, midis: Sequence[float]) -> NDArray[np.float64]:
        return mixtures(midis) if self._driven else NO_TONES

    def _peaks_at(self, spectra: Spectrogram, frame: int) -> Peaks:
        if (spectra, frame) not in self._peaks:
            self._peaks[spectra, frame] = Peaks.of(spectra.row(frame), spectra.bin_hz)
        return self._peaks[spectra, frame]
