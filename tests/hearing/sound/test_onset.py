"""Onsets: a pick is found to the millisecond, a slide is none."""

from __future__ import annotations

import numpy as np

from livecheck.hearing.sound.onset import onsets
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from tests.hearing.tones import laid, tone


def test_picks_are_found_where_they_begin() -> None:
    times = [0.5, 0.9, 1.4, 1.9]
    found = onsets(laid([(t, tone(60.0 + 2 * i, 0.45)) for i, t in enumerate(times)], 2.6))
    heard = [o.time_s for o in found if o.rise > 0.3 and o.time_s > 0.1]
    assert len(heard) == len(times)
    assert np.allclose(heard, times, atol=0.004)


def test_a_string_struck_again_while_it_rings_is_an_onset() -> None:
    found = onsets(laid([(0.5, tone(60.0, 2.0)), (0.5, tone(64.0, 2.0)), (1.3, tone(60.0, 1.0))], 2.6))
    assert any(abs(o.time_s - 1.3) < 0.004 and o.rise > 0.2 for o in found)


def test_a_slide_is_no_onset() -> None:
    ramp = 60.0 + 2.0 * np.clip((np.arange(2 * WORK_RATE_HZ) / WORK_RATE_HZ - 0.8) / 0.2, 0.0, 1.0)
    found = onsets(laid([(0.5, tone(ramp, 2.0)), (0.5, tone(ramp + 4.0, 2.0))], 2.6))
    assert not [o for o in found if 0.7 < o.time_s < 2.4 and o.rise > 0.2]
