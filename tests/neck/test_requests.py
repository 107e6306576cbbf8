"""Random requests: nothing unplayable; and the check can fail. How soon they are answered `python -m tests.neck` tells,
which tries ten thousand."""

from __future__ import annotations

import pytest

from livecheck.lesson.figure import Bar, Stance
from tests.neck.instruments import E9, JUST
from tests.neck.requests import answers, cannot_hold, cannot_play, pitch


def test_nothing_unplayable() -> None:
    found = 0
    for answer in answers(150, seed=2026):
        assert answer.complaints == (), answer.words
        found += answer.found > 0
    assert found > 50


@pytest.mark.parametrize("down", [["A", "C"], ["A", "B", "C"], ["LKL", "LKR"], ["A", "B", "LKL", "RKL"], ["X"]])
def test_what_nobody_can_hold(down: list[str]) -> None:
    assert cannot_hold("e9-ten-string", down) is not None


@pytest.mark.parametrize("down", [[], ["A"], ["A", "B", "LKL"], ["C", "B"], ["LKV", "RKR"]])
def test_what_anybody_can_hold(down: list[str]) -> None:
    assert cannot_hold("e9-ten-string", down) is None


def test_what_nobody_can_play() -> None:
    straight = Stance(Bar.straight(3.0))
    assert cannot_play("e9-ten-string", [4, 5, 6], straight) is None
    assert cannot_play("e9-ten-string", [4, 4], straight) is not None
    assert cannot_play("e9-ten-string", [1, 2, 3, 4, 5], straight) is not None
    assert cannot_play("e9-ten-string", [4], Stance(Bar.straight(25.0))) is not None
    assert cannot_play("e9-ten-string", [4], Stance(Bar.straight(2.5))) is not None
    assert cannot_play("e9-ten-string", [4, 5], Stance(Bar.slanted({4: 3.0, 5: 4.0}))) is not None
    assert cannot_play("lap-steel-six-c6", [1, 2], Stance(Bar.slanted({1: 3.0, 2: 4.0}))) is None
    assert cannot_play("lap-steel-six-c6", [1, 3], Stance(Bar.slanted({1: 3.0, 3: 6.0}))) is not None


def test_pitches_by_hand() -> None:
    """Raises do not add, a raise and a lower do, a pair's entry replaces both: an all-pull changer."""
    assert pitch(E9, 5, Stance(Bar.straight(3.0), {"A": 1.0, "C": 1.0})) == 59.0 + 3.0 + 2.0
    assert pitch(E9, 5, Stance(Bar.straight(0.0), {"A": 1.0, "LKV": 1.0})) == 60.0
    assert pitch(JUST, 5, Stance(Bar.straight(0.0), {"A": 1.0, "LKV": 1.0})) == pytest.approx(59.0196 + 1.117)
