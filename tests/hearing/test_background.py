"""Onsets of other players are left out where there are many of them; a soft touch alone is not."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.hearing.scene import without_background
from livecheck.hearing.sound.moment import Moment
from livecheck.hearing.sound.onset import Onset
from livecheck.hearing.sound.partials import Peaks

BIN_HZ = 11.71875
BINS = 1025


def _moment(time_s: float, level: float) -> Moment:
    """An onset that brings one sine of a level (1.0 is full scale) where nothing was."""
    after = np.zeros(BINS, dtype=np.float32)
    after[40] = level
    return Moment(Onset(time_s, 0.5), np.zeros(BINS, dtype=np.float32), after, Peaks.of(after, BIN_HZ))


def test_what_an_onset_brought_is_its_power_above_what_was_there() -> None:
    moment = _moment(0.0, 0.1)
    assert moment.new_db == pytest.approx(-20.0, abs=0.01)
    before = moment.after / np.float32(np.sqrt(2.0))
    louder = Moment(moment.onset, before, moment.after, moment.peaks)
    assert louder.new_db == pytest.approx(-23.01, abs=0.05)
    assert Moment(moment.onset, moment.after, moment.after, moment.peaks).new_db < -100.0


@pytest.mark.parametrize(("faint", "kept"), [(0, 4), (2, 6), (12, 4)])
def test_many_faint_onsets_are_a_background(faint: int, kept: int) -> None:
    picks = [_moment(0.5 * i, 0.2) for i in range(4)]
    others = [_moment(0.1 + 0.15 * i, 0.02) for i in range(faint)]
    assert len(without_background([*picks, *others], 4)) == kept


def test_a_stray_half_as_loud_as_the_picks_is_no_background() -> None:
    picks = [_moment(0.5 * i, 0.2) for i in range(4)]
    strays = [_moment(0.3, 0.1), _moment(0.9, 0.08)]
    band = [_moment(0.1 + 0.15 * i, 0.02) for i in range(12)]
    left = without_background([*picks, *strays, *band], 4)
    assert left == [*picks, *strays]


def test_what_others_play_is_told_by_the_picks_that_are_there() -> None:
    """Of two that are asked for one may be missing."""
    band = [_moment(0.1 + 0.15 * i, 0.02) for i in range(12)]
    pick = _moment(0.0, 0.2)
    (kept,) = without_background([pick, *band], 2)
    assert kept is pick


def test_silence_has_none() -> None:
    assert without_background([], 3) == []
