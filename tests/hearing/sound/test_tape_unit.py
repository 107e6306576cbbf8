"""Repeats whose distance wavers are found and softened; nothing else is taken for such a unit, and strings stay."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.hearing.sound.delay_unit import DelayUnit
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.ripple import Ripple
from livecheck.hearing.sound.tape_unit import TapeUnit
from tests.hearing.plucks import Samples, db_beside, in_reverb, plucks, recording_of, with_drum_machine

DELAY_S = 0.37
WAVER_S = 0.0004
REST_S = 0.8
"""Of each `EVERY_S`, in which the strings are damped."""
EVERY_S = 3.0


def _phrases() -> Samples:
    """Strings that are damped now and then."""
    played = plucks(24.0)
    return np.where(_rests(len(played)), 0.0, played)


def _rests(count: int) -> np.ndarray:
    return np.arange(count) / WORK_RATE_HZ % EVERY_S > EVERY_S - REST_S


def _through_tape(played: Samples, mix: float, feedback: float) -> Samples:
    """Each repeat comes a little before or after its time, darker than the one before."""
    times = np.arange(len(played))
    heard, repeat = played.copy(), played
    for number in range(4):
        wavering = DELAY_S + WAVER_S * np.sin(2.0 * np.pi * 0.7 * times / WORK_RATE_HZ + number)
        repeat = np.interp(times - wavering * WORK_RATE_HZ, times, repeat, left=0.0)
        repeat = np.convolve(repeat, np.hanning(9) / 4.0, mode="same")
        heard = heard + mix * feedback**number * repeat
    return heard


def _cleaned(unit: TapeUnit, recording: Recording) -> Samples:
    return np.concatenate(list(unit.taken_off(recording))).astype(np.float64)


@pytest.mark.parametrize(("mix", "feedback"), [(0.3, 0.2), (0.35, 0.3), (0.5, 0.45)])
def test_repeats_that_waver_are_found_and_softened(mix: float, feedback: float) -> None:
    played = _phrases()
    heard = recording_of(_through_tape(played, mix, feedback))
    assert DelayUnit.in_take(Ripple(heard)) is None
    unit = TapeUnit.in_take(Ripple(heard))
    assert unit is not None
    assert unit.delay_s == pytest.approx(DELAY_S, abs=2.0 * WAVER_S)
    assert unit.repeat == pytest.approx(mix, rel=0.3)
    clean, rests = _cleaned(unit, heard), _rests(len(played))
    assert len(clean) == len(played)
    before = heard.slice(0, len(played)).astype(np.float64)
    assert db_beside(clean[rests], before[rests]) < -6.0
    assert abs(db_beside(clean[~rests], played[~rests])) < 1.0


def test_hiss_does_not_hide_it() -> None:
    heard = _through_tape(_phrases(), 0.35, 0.3)
    heard += 0.02 * np.sqrt(np.mean(heard**2)) * np.random.default_rng(2).normal(size=len(heard))
    unit = TapeUnit.in_take(Ripple(recording_of(heard)))
    assert unit is not None
    assert unit.delay_s == pytest.approx(DELAY_S, abs=2.0 * WAVER_S)


def test_where_there_is_no_unit_none_is_found() -> None:
    played = plucks(24.0)
    for heard in (played, in_reverb(played), with_drum_machine(played), np.zeros(len(played)), np.zeros(0)):
        assert TapeUnit.in_take(Ripple(recording_of(heard))) is None


def test_a_short_take_tells_too_little() -> None:
    assert TapeUnit.in_take(Ripple(recording_of(_through_tape(plucks(5.0), 0.5, 0.45)))) is None


def test_what_is_no_repeat_stays_as_it_was() -> None:
    played = plucks(3.0)
    unit = TapeUnit(5.0, 0.35)
    assert _cleaned(unit, recording_of(played)) == pytest.approx(played, abs=1e-6)
