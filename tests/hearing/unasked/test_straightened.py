"""The sound at an onset as if the bar stood still."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.scene import WINDOW
from livecheck.hearing.sound.moment import AFTER_S
from livecheck.hearing.sound.onset import Onset
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.unasked.straightened import straightened

AT_S = 0.5
MIDI = 57.0
"""Where the string is just after the onset."""


def _bar(times_s: NDArray[np.float64], semitones_s: float) -> NDArray[np.float64]:
    return (times_s - AT_S - AFTER_S) * semitones_s


def _gliding(semitones_s: float) -> Recording:
    times_s = np.arange(WORK_RATE_HZ) / WORK_RATE_HZ
    hz = 440.0 * 2.0 ** ((MIDI - 69.0 + _bar(times_s, semitones_s)) / 12.0)
    turns = 2.0 * np.pi * np.cumsum(hz) / WORK_RATE_HZ
    recording = Recording()
    recording.append(np.sum([0.1 / k * np.sin(k * turns) for k in range(1, 9)], axis=0).astype(np.float32))
    return recording


@pytest.mark.parametrize("semitones_s", [-40.0, -20.0, 20.0, 40.0])
def test_a_gliding_string_s_partials_are_as_sharp_as_those_of_one_that_stands_still(semitones_s: float) -> None:
    """At 20 semitones a second the eighth one goes through fifteen bins in the frame."""
    times_s = AT_S + np.linspace(-0.2, 0.2, 41)
    recording, bar, still = _gliding(semitones_s), _bar(times_s, semitones_s), np.zeros(len(times_s))
    wanted = _eighth(_gliding(0.0), still)
    assert _eighth(recording, bar) == pytest.approx(wanted, rel=0.1)
    assert _eighth(recording, still) < 0.7 * wanted


def _eighth(recording: Recording, bar: NDArray[np.float64]) -> float:
    """The height of the eighth partial just after the onset, if the bar went so."""
    moment = straightened(recording, Onset(AT_S, 0.5), AT_S + np.linspace(-0.2, 0.2, len(bar)), bar, WINDOW)
    at = round(8.0 * 440.0 * 2.0 ** ((MIDI - 69.0) / 12.0) * WINDOW / WORK_RATE_HZ)
    return float(moment.after[at - 1 : at + 2].max())


@pytest.mark.parametrize("duration_s", [0.1, 0.3])
@pytest.mark.parametrize("share", [0.0, 1.0])
def test_at_the_edges_of_a_take_lies_silence(duration_s: float, share: float) -> None:
    recording = Recording()
    recording.append(_gliding(10.0).slice(0, round(duration_s * WORK_RATE_HZ)))
    onset = Onset(share * duration_s, 0.5)
    times_s = onset.time_s + np.linspace(-0.2, 0.2, 41)
    moment = straightened(recording, onset, times_s, 10.0 * (times_s - onset.time_s), WINDOW)
    assert moment.before.shape == moment.after.shape == (WINDOW // 2 + 1,)
    assert np.isfinite(moment.before).all()
    assert np.isfinite(moment.after).all()
    assert (moment.before.max() > 1e-3) == (share == 1.0)
    assert (moment.after.max() > 1e-3) == (share < 1.0)
