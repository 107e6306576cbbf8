"""Hearing against methods and figures from outside the project.

- Pitch of single strings: pYIN as in librosa (M. Mauch, S. Dixon, "pYIN: a fundamental frequency estimator using
  probabilistic threshold distributions", ICASSP 2014) and YIN as in aubio (A. de Cheveigné, H. Kawahara, "YIN, a
  fundamental frequency estimator for speech and music", JASA 111, 2002).
- Onsets: librosa's spectral flux with a maximum filter (S. Böck, G. Widmer, "Maximum filter vibrato suppression for
  onset detection", DAFx 2013), compared by mir_eval's onset measure.
- Spectra: librosa's short-time Fourier transform.
- Notes of a take: mir_eval's transcription measure with its standard limits, onsets within 50 ms and pitch within
  50 cents (C. Raffel et al., "mir_eval: a transparent implementation of common MIR metrics", ISMIR 2014).
- Frequencies: ISO 16 (A4 is 440 Hz), and MIDI note numbers as in the MIDI Tuning Standard (MIDI 1.0 Detailed
  Specification 4.2: key 60 is 261.6256 Hz).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import aubio
import librosa
import mir_eval
import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.listening import Listener
from livecheck.hearing.sound.onset import onsets
from livecheck.hearing.sound.partials import hz
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.single import single_midi
from livecheck.hearing.sound.spectrum import hann, magnitudes_of
from tests.hearing.played import Part, Stroke, recorded
from tests.hearing.tones import laid, tone

HOP = 480
Curve = tuple[NDArray[np.float64], NDArray[np.float64]]
SLIDES = [
    Part.of(
        "{ beat = 1, fret = 3, pick = [5] }", "{ beat = 3, fret = 7, over = 0.5 }", "{ beat = 5, fret = 5, over = 1 }"
    ),
    Part.of("{ beat = 1, fret = 10, pick = [8] }", "{ beat = 2, fret = 9 }", "{ beat = 4, fret = 12, over = 0.3 }"),
    Part.of("{ beat = 1, fret = 5, pick = [3] }", '{ beat = 3, down = ["B"], over = 0.3 }', "{ beat = 4, fret = 3 }"),
]
STUDY = Part.of(
    "{ beat = 1, fret = 3, pick = [5, 6] }",
    "{ beat = 2, fret = 5, over = 0.4 }",
    "{ beat = 3, fret = 5, pick = [4] }",
    '{ beat = 4, fret = 8, down = ["A"], pick = [4, 5, 6] }',
    "{ beat = 5, down = [], over = 0.4 }",
    '{ beat = 6, block = "all" }',
    '{ beat = "13/2", fret = 10, pick = [3, 4, 5], roll = 0.1 }',
    "{ beat = 8, fret = 8, over = 0.3 }",
    "{ beat = 9, pick = [8] }",
    '{ beat = "19/2", pick = [6] }',
    "{ beat = 10, pick = [5] }",
    length=11,
)

STUDY_S = 13.0


def _samples(recording: Recording) -> NDArray[np.float32]:
    return recording.slice(0, len(recording))


def _heard(part: Part, recording: Recording) -> list[HeardNote]:
    return Listener(recording, onsets(recording), part.copedent).hear(part.score, -np.inf, np.inf)


def _pyin(samples: NDArray[np.float32]) -> Curve:
    """Times and MIDI numbers where librosa is sure of a pitch, in steps of ten cents that fall on the notes."""
    found, voiced, _ = librosa.pyin(
        samples,
        fmin=float(librosa.note_to_hz("D3")),
        fmax=float(librosa.note_to_hz("E5")),
        sr=WORK_RATE_HZ,
        frame_length=2048,
        hop_length=HOP,
    )
    times_s = librosa.times_like(found, sr=WORK_RATE_HZ, hop_length=HOP)
    return times_s[voiced], librosa.hz_to_midi(found[voiced])


def _yinfast(samples: NDArray[np.float32]) -> Curve:
    """Times and MIDI numbers where aubio is sure of a pitch; its frame ends with the hop it was given."""
    detector = aubio.pitch("yinfast", 2048, HOP, WORK_RATE_HZ)
    detector.set_unit("midi")
    found, sure = [], []
    for at in range(0, len(samples) - HOP + 1, HOP):
        found.append(float(detector(samples[at : at + HOP])[0]))
        sure.append(detector.get_confidence() > 0.9)
    times_s = (HOP * (1.0 + np.arange(len(found))) - 1024) / WORK_RATE_HZ
    return times_s[sure], np.array(found)[sure]


@pytest.mark.parametrize("other", [_pyin, _yinfast])
@pytest.mark.parametrize("part", SLIDES)
def test_a_sliding_string_s_curve_is_that_of_pyin_and_of_yin(
    part: Part, other: Callable[[NDArray[np.float32]], Curve]
) -> None:
    """Half of the frames within three cents, nineteen in twenty, glides included, within a quarter of a semitone."""
    recording = recorded(part.strokes().values())
    (note,) = _heard(part, recording)
    times_s, midis = other(_samples(recording))
    inside = (times_s > note.start_s + 0.08) & (times_s < note.end_s - 0.08)
    times_s, midis = times_s[inside], midis[inside]
    off_cents = 100.0 * np.abs(np.interp(times_s, note.times_s, note.midis) - midis)
    assert len(times_s) > 200
    assert np.median(off_cents) < 3.0
    assert np.percentile(off_cents, 95) < 25.0


@pytest.mark.parametrize("midi", [50.0, 57.3, 62.0, 68.85, 74.5])
def test_a_string_alone_has_the_pitch_that_librosa_s_yin_gives(midi: float) -> None:
    recording = laid([(0.5, tone(midi, 1.0))], 2.0)
    stretch = recording.slice(round(0.6 * WORK_RATE_HZ), round(1.0 * WORK_RATE_HZ))
    found = librosa.yin(stretch, fmin=100.0, fmax=900.0, sr=WORK_RATE_HZ, frame_length=2048, center=False)
    assert single_midi(recording, 0.6, 1.0) == pytest.approx(float(np.median(librosa.hz_to_midi(found))), abs=0.05)


def test_onsets_are_those_of_librosa() -> None:
    recording = recorded(STUDY.strokes().values(), STUDY_S)
    strength = librosa.onset.onset_strength(
        y=_samples(recording), sr=WORK_RATE_HZ, hop_length=120, lag=2, max_size=3, n_mels=138, fmin=100.0
    )
    theirs_s = librosa.onset.onset_detect(onset_envelope=strength, sr=WORK_RATE_HZ, hop_length=120, units="time")
    ours_s = np.array([o.time_s for o in onsets(recording) if o.rise > 0.2 and o.time_s > 0.1])
    f_measure, _, _ = mir_eval.onset.f_measure(theirs_s, ours_s, window=0.05)
    assert f_measure == 1.0
    begins_s = np.array(sorted({stroke.start_s for stroke in STUDY.strokes().values()}))
    assert ours_s == pytest.approx(begins_s, abs=0.01)


def _transcribed(strokes: Iterable[Stroke]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What was played as mir_eval wants it: intervals in seconds, shape (notes, 2), and frequencies in Hz."""
    notes = list(strokes)
    return np.array([(s.start_s, s.end_s) for s in notes]), hz(np.array([float(s.midi_at(s.start_s)) for s in notes]))


def _heard_as_transcription(notes: Iterable[HeardNote]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    intervals, midis = [], []
    for note in notes:
        midi = note.median_midi(note.start_s, note.start_s + 0.15)
        if midi is not None:
            intervals.append((note.start_s, note.end_s))
            midis.append(midi)
    return np.array(intervals), hz(np.array(midis))


def _f1(played: Iterable[Stroke], notes: Iterable[HeardNote], offset_ratio: float | None = None) -> float:
    _, _, f1, _ = mir_eval.transcription.precision_recall_f1_overlap(
        *_transcribed(played), *_heard_as_transcription(notes), offset_ratio=offset_ratio
    )
    return float(f1)


def _with_mistakes() -> list[Stroke]:
    """The study with a string missed, a grip a fret too high, a pick late, a string too many and one cut short."""
    strokes = STUDY.strokes()
    del strokes[4, 5]
    for string in (3, 4, 5):
        one = strokes[7, string]
        strokes[7, string] = replace(one, knots=tuple((t, midi + 1.0) for t, midi in one.knots))
    strokes[9, 8] = replace(strokes[9, 8], start_s=9.15)
    strokes[1, 6] = replace(strokes[1, 6], end_s=2.5)
    return [*strokes.values(), Stroke(2, 6.3, 6.45, ((6.3, 71.0),))]


def test_the_notes_of_a_take_by_the_book_are_all_transcribed() -> None:
    """With ends too: they count within a fifth of a note's length."""
    strokes = STUDY.strokes().values()
    notes = _heard(STUDY, recorded(strokes, STUDY_S))
    assert _f1(strokes, notes) == 1.0
    assert _f1(strokes, notes, offset_ratio=0.2) == 1.0


def test_the_notes_of_a_take_with_mistakes_are_transcribed_as_they_were_played() -> None:
    played = _with_mistakes()
    notes = _heard(STUDY, recorded(played, STUDY_S))
    assert _f1(played, notes) >= 0.95
    by_the_book = _heard(STUDY, recorded(STUDY.strokes().values(), STUDY_S))
    assert _f1(played, by_the_book) < 0.8  # what the lesson wants would not do


def test_spectra_are_those_of_librosa() -> None:
    samples = np.random.default_rng(0).normal(0.0, 0.1, WORK_RATE_HZ).astype(np.float32)
    theirs = np.abs(librosa.stft(samples, n_fft=2048, hop_length=HOP, window="hann", center=False))
    window = librosa.filters.get_window("hann", 2048)
    assert hann(2048) / 2048 == pytest.approx(window * 2.0 / window.sum(), abs=1e-9)
    # A frame's constant, which is taken off, lies in the first two bins of a Hann window and nowhere else.
    ours = magnitudes_of(samples, 2048, HOP)
    assert ours[:, 2:] == pytest.approx(theirs.T[:, 2:] * 2.0 / window.sum(), abs=1e-6)


def test_frequencies_are_those_of_the_standards() -> None:
    assert hz(np.array([69.0, 60.0])) == pytest.approx([440.0, 261.6256], abs=5e-5)
    midis = np.arange(0.0, 128.0, 0.25)
    assert hz(midis) == pytest.approx(librosa.midi_to_hz(midis), rel=1e-12)
