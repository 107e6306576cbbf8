"""What was struck: rolls, every string of them at its own time, and strings that hide behind others."""

from __future__ import annotations

import pytest

from livecheck.drafting.take import lines_in_audio
from livecheck.sources.library import load_copedent
from tests.drafting.plucked import RATE_HZ, Knots, plucked

E9 = load_copedent("e9-ten-string")
PAIRS: list[Knots] = [
    [(0.5 + 0.6 * i, midi), (1.05 + 0.6 * i, midi)]
    for i, low in enumerate((59.0, 61.0, 62.0))
    for midi in (low, low + 5)
]
"""What this hand usually does: two strings at once."""


def heard(roll: list[Knots]) -> list[tuple[float, float]]:
    lines = lines_in_audio([plucked([*PAIRS, *roll], 5.0)], RATE_HZ, E9)
    return [(line.start_s, line.rests[0].midi) for line in lines if line.start_s > 2.5]


@pytest.mark.parametrize("apart_s", [0.05, 0.06, 0.08, 0.12, 0.13, 0.16])
@pytest.mark.parametrize(("first", "then"), [(59.0, 63.0), (56.0, 64.0), (64.0, 61.0), (68.0, 61.0)])
def test_every_string_of_a_roll_is_told_at_its_own_time(first: float, then: float, apart_s: float) -> None:
    told = heard([[(2.7, first), (4.0, first)], [(2.7 + apart_s, then), (4.0, then)]])
    assert [midi for _, midi in told] == pytest.approx([first, then], abs=0.15)
    assert [at_s for at_s, _ in told] == pytest.approx([2.7, 2.7 + apart_s], abs=0.02)


@pytest.mark.parametrize("apart_s", [0.08, 0.12, 0.16])
@pytest.mark.parametrize(("low", "high"), [(59.0, 71.0), (56.0, 75.0)])
def test_a_string_that_hides_behind_the_first_is_told_in_a_roll(low: float, high: float, apart_s: float) -> None:
    """An octave or a twelfth above it all its partials are the lower one's, too."""
    told = heard([[(2.7, low), (4.0, low)], [(2.7 + apart_s, high), (4.0, high)]])
    assert [midi for _, midi in told] == pytest.approx([low, high], abs=0.15)
    assert [at_s for at_s, _ in told] == pytest.approx([2.7, 2.7 + apart_s], abs=0.02)


def test_three_strings_are_rolled_one_by_one() -> None:
    told = heard([[(2.7, 56.0), (4.0, 56.0)], [(2.78, 59.0), (4.0, 59.0)], [(2.86, 64.0), (4.0, 64.0)]])
    assert [midi for _, midi in told] == pytest.approx([56.0, 59.0, 64.0], abs=0.15)
    assert [at_s for at_s, _ in told] == pytest.approx([2.7, 2.78, 2.86], abs=0.02)


@pytest.mark.parametrize(("low", "high"), [(59.0, 71.0), (64.0, 76.0), (57.0, 76.0)])
def test_an_octave_and_a_twelfth_struck_at_once_are_told_apart(low: float, high: float) -> None:
    """All partials of the upper string are the lower one's; which of these are too strong says what it is."""
    told = heard([[(2.7, low), (4.0, low)], [(2.7, high), (4.0, high)]])
    assert [midi for _, midi in told] == pytest.approx([low, high], abs=0.15)
