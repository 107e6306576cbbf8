"""The bar's way: all strings under it together tell whether it left, and when."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.curves.bar import along_the_bar
from livecheck.hearing.curves.quest import Quest
from livecheck.hearing.curves.tracks import scaled
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.spectrum import spectrogram
from tests.hearing.tones import laid, tone

LENGTH_S = 2.0
GRIP = (65.0, 70.0, 77.0)
"""The middle string a fourth above the lowest, the highest an octave above that: each partial of the middle one and of
the highest lies where the lowest and the middle one would be a fourth higher."""
NEVER_S = 10.0


def _gone(far: float, from_s: float, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far a bar has gone that slides for .15 s from a time on."""
    return far * np.clip((times_s - from_s) / 0.15, 0.0, 1.0)


def _guesses(
    grip: tuple[float, ...], far: float, guessed_s: float, played_s: float
) -> tuple[NDArray[np.float64], list[NDArray[np.float64]]]:
    """Times, and where each string of a grip is guessed to be in the end that should slide at one time and does at
    another."""
    clock = np.arange(round(LENGTH_S * WORK_RATE_HZ)) / WORK_RATE_HZ
    recording = laid([(0.0, tone(midi + _gone(far, played_s, clock), LENGTH_S)) for midi in grip], LENGTH_S)
    return _along(recording, grip, far, guessed_s)


def _along(
    recording: Recording, grip: tuple[float, ...], far: float, guessed_s: float
) -> tuple[NDArray[np.float64], list[NDArray[np.float64]]]:
    """Times, and where each string of a grip that should slide at a time is guessed to be in the end."""
    spectra = spectrogram(recording, 0.1, LENGTH_S - 0.1, 2048, 256)
    count = len(spectra)
    lines = [midi + _gone(far, guessed_s, spectra.times_s) for midi in grip]
    quests = [Quest(0, count, (line[0], line[-1]), line, line) for line in lines]
    moved = along_the_bar(scaled(spectra, 0, count), quests, spectra.bin_hz)
    return spectra.times_s, [one.guess for one in moved]


@pytest.mark.parametrize("far", [4.0, 3.0, -4.0, -3.0, 7.0])
@pytest.mark.parametrize("grip", [GRIP, GRIP[1:]])
def test_a_chord_that_stands_is_not_taken_for_one_that_went(grip: tuple[float, ...], far: float) -> None:
    _, guesses = _guesses(grip, far, 0.9, NEVER_S)
    for midi, guess in zip(grip, guesses, strict=True):
        assert np.abs(guess - midi).max() < 0.7


@pytest.mark.parametrize("far", [4.0, 3.0, -4.0, -3.0, 7.0, 12.0, -12.0, 5.0, -5.0])
@pytest.mark.parametrize("grip", [GRIP, GRIP[1:]])
def test_a_chord_that_goes_where_its_partials_are_is_followed(grip: tuple[float, ...], far: float) -> None:
    times_s, guesses = _guesses(grip, far, 0.9, 0.9)
    for midi, guess in zip(grip, guesses, strict=True):
        assert np.abs(guess - midi - far)[times_s > 1.1].max() < 0.7


@pytest.mark.parametrize("far", [4.0, -4.0, 5.0])
def test_a_chord_that_goes_later_is_followed_from_then_on(far: float) -> None:
    times_s, guesses = _guesses(GRIP, far, 0.6, 1.1)
    for midi, guess in zip(GRIP, guesses, strict=True):
        assert np.abs(guess - midi)[times_s < 1.05].max() < 0.7
        assert np.abs(guess - midi - far)[times_s > 1.3].max() < 0.7


@pytest.mark.parametrize(("played_s", "gone"), [(NEVER_S, 0.0), (0.9, -5.0)])
def test_what_one_string_sounds_is_not_counted_for_two(played_s: float, gone: float) -> None:
    """Two strings a fifth apart should go down a fourth, and the upper one is softer: where the upper one would be the
    lower one, and the lower one a fifth below, the loud one's partials are called for twice."""
    clock = np.arange(round(LENGTH_S * WORK_RATE_HZ)) / WORK_RATE_HZ
    way = _gone(-5.0, played_s, clock)
    loud = [tone(69.0 + way, LENGTH_S), tone(81.0 + way, LENGTH_S, partials=1)]
    recording = laid([(0.0, part) for part in (*loud, tone(76.0 + way, LENGTH_S, level=0.02))], LENGTH_S)
    times_s, guesses = _along(recording, (69.0, 76.0), -5.0, 0.9)
    for midi, guess in zip((69.0, 76.0), guesses, strict=True):
        assert np.abs(guess - midi - gone)[times_s > 1.1].max() < 0.7
