"""A delay unit's repeats are found by their distance and taken off; nothing else is taken for one."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.hearing.sound.delay_unit import DelayUnit
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.ripple import Ripple
from tests.hearing.plucks import Samples, db_beside, in_reverb, plucks, recording_of, with_drum_machine

DELAY = 9000


def _cleaned(unit: DelayUnit, recording: Recording) -> Recording:
    clean = Recording()
    for piece in unit.taken_off(recording):
        clean.append(piece)
    return clean


def _through_unit(samples: Samples, mix: float, feedback: float) -> Samples:
    """A delay line with feedback: what comes out of it goes in again, softer."""
    line = np.zeros(len(samples))
    for start in range(DELAY, len(samples), DELAY):
        count = min(DELAY, len(samples) - start)
        before = slice(start - DELAY, start - DELAY + count)
        line[start : start + count] = samples[before] + feedback * line[before]
    return samples + mix * line


@pytest.mark.parametrize(("mix", "feedback"), [(0.25, 0.15), (0.35, 0.3), (0.5, 0.45)])
def test_a_units_delay_is_found_and_its_repeats_are_taken_off(mix: float, feedback: float) -> None:
    played = plucks(20.0)
    heard = _through_unit(played, mix, feedback)
    unit = DelayUnit.in_take(Ripple(recording_of(heard)))
    assert unit is not None
    assert unit.delay_s == pytest.approx(DELAY / WORK_RATE_HZ, abs=1.5 / WORK_RATE_HZ)
    clean = _cleaned(unit, recording_of(heard)).slice(0, len(played)).astype(np.float64)
    assert db_beside(clean - played, played) < db_beside(heard - played, played) - 12.0


def test_hiss_that_comes_after_the_unit_does_not_hide_it() -> None:
    heard = _through_unit(plucks(20.0), 0.35, 0.3)
    heard += 0.03 * np.sqrt(np.mean(heard**2)) * np.random.default_rng(2).normal(size=len(heard))
    unit = DelayUnit.in_take(Ripple(recording_of(heard)))
    assert unit is not None
    assert unit.delay_s == pytest.approx(DELAY / WORK_RATE_HZ, abs=1.5 / WORK_RATE_HZ)


def test_a_sampled_note_that_comes_twice_is_no_unit() -> None:
    played = plucks(20.0)
    note = plucks(2.0, seed=5)[: 2 * DELAY]
    for at in (6 * WORK_RATE_HZ, 6 * WORK_RATE_HZ + 2 * DELAY):
        played[at : at + len(note)] = note * np.linspace(3.0, 0.0, len(note))
    assert DelayUnit.in_take(Ripple(recording_of(played))) is None


def test_where_there_is_no_unit_none_is_found() -> None:
    played = plucks(20.0)
    for heard in (played, in_reverb(played), with_drum_machine(played), np.zeros(len(played))):
        assert DelayUnit.in_take(Ripple(recording_of(heard))) is None


def test_a_short_take_tells_too_little() -> None:
    assert DelayUnit.in_take(Ripple(recording_of(_through_unit(plucks(5.0), 0.5, 0.45)))) is None


def test_a_long_take_is_cleaned_to_its_end_and_stays_as_long() -> None:
    played = plucks(50.0)
    heard = recording_of(_through_unit(played, 0.35, 0.3))
    unit = DelayUnit.in_take(Ripple(heard))
    assert unit is not None
    clean = _cleaned(unit, heard)
    assert len(clean) == len(heard)
    last = slice(len(played) - 3 * WORK_RATE_HZ, len(played))
    rest = clean.slice(last.start, last.stop).astype(np.float64) - played[last]
    assert db_beside(rest, played[last]) < -18.0
