"""What pedals and levers do together: the largest pull counts, a raise and a lower add, half-pedals scale first.

Common practice, no source: an all-pull changer stops each string's finger at the farthest of its pulls.
"""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.lesson.copedent import Copedent

CHANGES = {"P": {1: 2.0}, "Q": {1: 1.0, 2: 1.0}, "L": {1: -1.0, 3: -1.0}, "M": {1: -3.0}}
STEEL = Copedent("three strings", (71.0, 68.0, 64.0), CHANGES)
downs = st.dictionaries(st.sampled_from(sorted(CHANGES)), st.floats(0.0, 1.0))


@pytest.mark.parametrize(
    ("down", "semitones"),
    [
        ({}, 0.0),
        ({"P": 1.0}, 2.0),
        ({"P": 1.0, "Q": 1.0}, 2.0),
        ({"L": 1.0, "M": 1.0}, -3.0),
        ({"P": 1.0, "L": 1.0}, 1.0),
        ({"P": 1.0, "Q": 1.0, "L": 1.0, "M": 1.0}, -1.0),
        ({"P": 0.25}, 0.5),
        ({"P": 0.25, "Q": 1.0}, 1.0),
        ({"P": 0.5, "L": 0.5}, 0.5),
        ({"P": 0.0}, 0.0),
    ],
)
def test_one_string_under_several_changes(down: dict[str, float], semitones: float) -> None:
    assert STEEL.shift(1, down) == pytest.approx(semitones)


def test_a_change_moves_only_its_own_strings() -> None:
    assert [STEEL.shift(string, {"Q": 1.0, "L": 1.0}) for string in (1, 2, 3)] == [0.0, 1.0, -1.0]
    assert STEEL.open_midi(3) == 64.0


@given(downs)
def test_raises_and_lowers_never_exceed_the_largest_of_each(down: dict[str, float]) -> None:
    pulls = [CHANGES[name].get(1, 0.0) * amount for name, amount in down.items()]
    assert STEEL.shift(1, down) == pytest.approx(max(0.0, *pulls, 0.0) + min(0.0, *pulls, 0.0))
    raises = {name: amount for name, amount in down.items() if name in "PQ"}
    assert STEEL.shift(1, raises) <= 2.0


@given(downs)
def test_pressing_further_never_moves_a_string_back(down: dict[str, float]) -> None:
    further = {name: min(1.0, amount + 0.1) for name, amount in down.items() if name in "PQ"}
    assert STEEL.shift(1, further) >= STEEL.shift(1, {name: down[name] for name in further})


def test_a_pair_replaces_the_rule_on_its_strings_alone() -> None:
    steel = Copedent("pair", STEEL.strings, CHANGES, {frozenset("LP"): {1: 0.96}})
    assert steel.shift(1, {"L": 1.0, "P": 1.0}) == pytest.approx(0.96)
    assert steel.shift(3, {"L": 1.0, "P": 1.0}) == -1.0
    assert steel.shift(1, {"P": 1.0}) == 2.0


def test_a_pair_counts_as_far_as_the_less_engaged_of_the_two() -> None:
    steel = Copedent("pair", STEEL.strings, CHANGES, {frozenset("LP"): {1: 0.8}})
    assert steel.shift(1, {"L": 0.5, "P": 1.0}) == pytest.approx(2.0 - 0.5 - 0.5 * 0.2)
    assert steel.shift(1, {"L": 0.0, "P": 1.0}) == 2.0


def test_a_pair_holds_beside_a_third_pedal() -> None:
    steel = Copedent("pair", STEEL.strings, CHANGES, {frozenset("LP"): {1: 0.96}})
    assert steel.shift(1, {"L": 1.0, "P": 1.0, "Q": 1.0}) == pytest.approx(0.96)


@given(st.permutations(sorted(CHANGES)))
def test_the_order_in_which_changes_are_named_means_nothing(names: list[str]) -> None:
    for one, other in combinations(names, 2):
        assert STEEL.shift(1, {one: 1.0, other: 0.5}) == STEEL.shift(1, {other: 0.5, one: 1.0})
