"""The bend of a driven amplifier is found by what strings mix to and taken off; what has none is left as it is."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.sound.amplifier import Amplifier
from livecheck.hearing.sound.mixing import Chord
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from tests.bench.strings import MODELLED, plucked

Samples = NDArray[np.float64]
APART_S = 1.0
MIDIS = ((60.0, 64.0, 67.1), (59.1, 63.0), (62.0, 65.9, 71.0), (57.0, 66.0))
CHORDS = [Chord(at * APART_S + 0.1, midis) for at, midis in enumerate(MIDIS)]
BENDS: dict[str, Callable[[Samples], Samples]] = {
    "tanh": lambda sound: np.asarray(np.tanh(3.0 * sound + 0.2) - np.tanh(0.2)),
    "arctan": lambda sound: np.asarray(np.arctan(4.0 * sound - 0.1) - np.arctan(-0.1)),
    "root": lambda sound: 3.0 * sound / np.sqrt(1.0 + 9.0 * sound**2),
    "hyperbola": lambda sound: 4.0 * sound / (1.0 + np.abs(4.0 * sound)),
}


def _played() -> Samples:
    """Plucked strings, two or three together, about as loud as 1."""
    out = np.zeros(round((APART_S * len(MIDIS) + 0.2) * WORK_RATE_HZ))
    for time_s, midis in CHORDS:
        at = round(time_s * WORK_RATE_HZ)
        for midi in midis:
            string = plucked(midi, MODELLED, 0.9, WORK_RATE_HZ)
            out[at : at + len(string)] += string
    return out / float(np.abs(out).max())


def _recording(samples: Samples) -> Recording:
    recording = Recording()
    recording.append(samples.astype(np.float32))
    return recording


def _taken_off(amplifier: Amplifier, recording: Recording) -> Samples:
    return np.concatenate(list(amplifier.taken_off(recording))).astype(np.float64)


def _unlike_db(one: Samples, other: Samples) -> float:
    """How much of a sound is not the other one, whatever their levels."""
    return float(10.0 * np.log10(1.0 - np.corrcoef(one, other)[0, 1] ** 2 + 1e-12))


@pytest.mark.parametrize("name", BENDS)
def test_what_an_amplifier_bends_is_straight_again(name: str) -> None:
    plain = _played()
    driven = 0.3 * BENDS[name](plain)
    recording = _recording(driven)
    amplifier = Amplifier.in_take(recording, CHORDS)
    assert amplifier is not None
    straight = _taken_off(amplifier, recording)
    assert len(straight) == len(driven)
    assert _unlike_db(straight, plain) < _unlike_db(driven, plain) - 9.0


def test_what_is_soft_stays_as_loud_as_it_is() -> None:
    """Little is bent there, and silence stays silent though the ceiling is not as far as the floor."""
    amplifier = Amplifier(-0.6, 0.4, np.arctanh)
    soft = np.array([-1e-3, 0.0, 1e-3], dtype=np.float32)
    assert amplifier.undone(soft) == pytest.approx([-1.04e-3, 0.0, 1.04e-3], abs=1e-5)


def test_clean_sound_is_left_as_it_is() -> None:
    assert Amplifier.in_take(_recording(_played()), CHORDS) is None


@pytest.mark.parametrize("ceiling", [0.1, 0.3, 0.5])
def test_what_is_cut_off_hard_is_left_as_it_is(ceiling: float) -> None:
    """No curve gives back what is gone."""
    assert Amplifier.in_take(_recording(np.clip(_played(), -ceiling, ceiling)), CHORDS) is None


def test_silence_and_single_strings_tell_nothing() -> None:
    silence = _recording(np.zeros(WORK_RATE_HZ))
    assert Amplifier.in_take(silence, CHORDS) is None
    driven = _recording(BENDS["tanh"](_played()))
    assert Amplifier.in_take(driven, []) is None
    assert Amplifier.in_take(driven, [Chord(0.1, (60.0,))]) is None


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("faintest", [0.0, 1e-20, 1e-12, 1e-6, 1e-3])
def test_sound_that_goes_to_one_side_alone_is_none_of_an_amplifier_that_could_be_undone(
    side: float, faintest: float
) -> None:
    """What is rectified has no floor that could be told from its rounding."""
    rectified = np.abs(_played())
    rectified[0] = -faintest
    assert Amplifier.in_take(_recording(side * rectified), CHORDS) is None
