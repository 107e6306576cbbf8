"""Where a pitch comes to rest."""

from __future__ import annotations

import pytest

from livecheck.judging.meanwhile.rest import middle, rests


def test_the_same_again_or_a_little_off_is_rest() -> None:
    changes = [(1.0, 60.0), (1.1, 60.0), (1.2, 60.02), (1.3, 61.0), (1.35, 62.0)]
    found = list(rests(changes, 2.0))
    assert [change for change, _ in found] == [(1.0, 60.0), (1.3, 61.0), (1.35, 62.0)]
    assert [lasts_s for _, lasts_s in found] == pytest.approx([0.3, 0.05, 0.65])


def test_a_pitch_that_creeps_is_not_at_rest() -> None:
    creeping = [(0.01 * n, 60.0 + 0.02 * n) for n in range(50)]
    assert max(lasts_s for _, lasts_s in rests(creeping, 0.5)) < 0.03


def test_the_middle_is_by_time_not_by_number() -> None:
    assert middle([(0.0, 60.0), (0.6, 61.0), (0.7, 62.0), (0.8, 63.0)], 1.0) == 60.0
    assert middle([(0.0, 60.0)], 0.0) == 60.0
