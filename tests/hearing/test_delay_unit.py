"""A delay unit's repeats are found by their distance and taken off; nothing else is taken for one."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.delay_unit import DelayUnit
from livecheck.hearing.recording import Recording
from livecheck.hearing.resample import WORK_RATE_HZ

Samples = NDArray[np.float64]
DELAY = 9000


def _recording(samples: Samples) -> Recording:
    recording = Recording()
    recording.append(samples.astype(np.float32))
    return recording


def _cleaned(unit: DelayUnit, recording: Recording) -> Recording:
    clean = Recording()
    for piece in unit.taken_off(recording):
        clean.append(piece)
    return clean


def _plucks(seconds: float, seed: int = 1) -> Samples:
    """Strings by the plucked-string algorithm of Karplus and Strong (Computer Music Journal, 1983), at odd times."""
    rng = np.random.default_rng(seed)
    out = np.zeros(round(seconds * WORK_RATE_HZ))
    at = 0
    while at < len(out) - WORK_RATE_HZ:
        period = int(rng.integers(60, 180))
        string = np.zeros(min(2 * WORK_RATE_HZ, len(out) - at))
        string[:period] = rng.uniform(-0.3, 0.3, period)
        for start in range(period, len(string) - period, period):
            before = string[start - period - 1 : start] if start > period else np.pad(string[:period], (1, 0))
            string[start : start + period] += 0.498 * (before[1:] + before[:-1])
        out[at : at + len(string)] += string
        at += int(rng.uniform(0.3, 0.9) * WORK_RATE_HZ)
    return out


def _through_unit(samples: Samples, mix: float, feedback: float) -> Samples:
    """A delay line with feedback: what comes out of it goes in again, softer."""
    line = np.zeros(len(samples))
    for start in range(DELAY, len(samples), DELAY):
        count = min(DELAY, len(samples) - start)
        before = slice(start - DELAY, start - DELAY + count)
        line[start : start + count] = samples[before] + feedback * line[before]
    return samples + mix * line


def _db(samples: Samples, beside: Samples) -> float:
    return float(10.0 * np.log10(np.mean(samples**2) / np.mean(beside**2)))


@pytest.mark.parametrize(("mix", "feedback"), [(0.25, 0.15), (0.35, 0.3), (0.5, 0.45)])
def test_a_units_delay_is_found_and_its_repeats_are_taken_off(mix: float, feedback: float) -> None:
    played = _plucks(20.0)
    heard = _through_unit(played, mix, feedback)
    unit = DelayUnit.in_take(_recording(heard))
    assert unit is not None
    assert unit.delay_s == pytest.approx(DELAY / WORK_RATE_HZ, abs=1.5 / WORK_RATE_HZ)
    clean = _cleaned(unit, _recording(heard)).slice(0, len(played)).astype(np.float64)
    assert _db(clean - played, played) < _db(heard - played, played) - 12.0


def test_hiss_that_comes_after_the_unit_does_not_hide_it() -> None:
    heard = _through_unit(_plucks(20.0), 0.35, 0.3)
    heard += 0.03 * np.sqrt(np.mean(heard**2)) * np.random.default_rng(2).normal(size=len(heard))
    unit = DelayUnit.in_take(_recording(heard))
    assert unit is not None
    assert unit.delay_s == pytest.approx(DELAY / WORK_RATE_HZ, abs=1.5 / WORK_RATE_HZ)


def test_a_sampled_note_that_comes_twice_is_no_unit() -> None:
    played = _plucks(20.0)
    note = _plucks(2.0, seed=5)[: 2 * DELAY]
    for at in (6 * WORK_RATE_HZ, 6 * WORK_RATE_HZ + 2 * DELAY):
        played[at : at + len(note)] = note * np.linspace(3.0, 0.0, len(note))
    assert DelayUnit.in_take(_recording(played)) is None


def _reverb(played: Samples) -> Samples:
    rng = np.random.default_rng(3)
    tail = rng.normal(size=WORK_RATE_HZ) * 10.0 ** (-3.0 * np.arange(WORK_RATE_HZ) / WORK_RATE_HZ)
    wet = np.fft.irfft(np.fft.rfft(played, 1 << 20) * np.fft.rfft(tail, 1 << 20))[: len(played)]
    return np.asarray(played + wet * 0.3 * np.sqrt(np.mean(played**2) / np.mean(wet**2)))


def _with_drum_machine(played: Samples) -> Samples:
    """The very same click every half second, as loud as the strings."""
    rng = np.random.default_rng(4)
    click = np.zeros(WORK_RATE_HZ // 2)
    click[:2000] = rng.normal(size=2000) * np.exp(-np.arange(2000) / 300.0)
    machine = np.resize(click, len(played))
    return np.asarray(played + machine * np.sqrt(np.mean(played**2) / np.mean(machine**2)))


def test_where_there_is_no_unit_none_is_found() -> None:
    played = _plucks(20.0)
    for heard in (played, _reverb(played), _with_drum_machine(played), np.zeros(len(played))):
        assert DelayUnit.in_take(_recording(heard)) is None


def test_a_short_take_tells_too_little() -> None:
    assert DelayUnit.in_take(_recording(_through_unit(_plucks(5.0), 0.5, 0.45))) is None


def test_a_long_take_is_cleaned_to_its_end_and_stays_as_long() -> None:
    played = _plucks(50.0)
    heard = _recording(_through_unit(played, 0.35, 0.3))
    unit = DelayUnit.in_take(heard)
    assert unit is not None
    clean = _cleaned(unit, heard)
    assert len(clean) == len(heard)
    last = slice(len(played) - 3 * WORK_RATE_HZ, len(played))
    rest = clean.slice(last.start, last.stop).astype(np.float64) - played[last]
    assert _db(rest, played[last]) < -18.0
