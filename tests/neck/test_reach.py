"""What can be held at once, by common practice (no source): a foot on neighbouring pedals, a knee one way."""

from __future__ import annotations

import pytest

from livecheck.lesson.copedent import Copedent
from livecheck.neck.reach import MOST_AT_ONCE, NOTHING_HELD, Hold, holds
from tests.neck.instruments import E9, LAP


def named(copedent: Copedent) -> set[frozenset[str]]:
    return {frozenset(hold.names) for hold in holds(copedent)}


def instrument(*changes: str, pairs: tuple[frozenset[str], ...] = ()) -> Copedent:
    return Copedent("", (64.0,), {name: {1: 1.0} for name in changes}, {pair: {1: 1.0} for pair in pairs})


@pytest.mark.parametrize("together", ["A", "A B", "B C", "A LKL", "A B LKL", "B LKR", "LKV RKL", "A LKL RKR"])
def test_what_players_hold(together: str) -> None:
    assert frozenset(together.split()) in named(E9)


@pytest.mark.parametrize("apart", ["A C", "A B C", "LKL LKR", "LKL LKV", "RKL RKR", "A B LKL RKL"])
def test_what_nobody_can_hold(apart: str) -> None:
    assert frozenset(apart.split()) not in named(E9)


def test_nothing_comes_first_and_every_hold_once() -> None:
    found = holds(E9)
    assert found[0] == NOTHING_HELD
    assert len(found) == len(named(E9))
    assert max(len(hold.levels) for hold in found) == MOST_AT_ONCE


def test_no_pedals() -> None:
    assert holds(LAP) == (NOTHING_HELD,)


@pytest.mark.parametrize("names", ["P4 P5", "4 5", "pedal 1", "p1 P2", "A 2", "C B"])
def test_pedals_by_other_names(names: str) -> None:
    changes = names.split() if "pedal" not in names else [names]
    assert frozenset(changes) in named(instrument(*changes))


def test_pedals_that_do_not_lie_side_by_side() -> None:
    assert frozenset({"P4", "P6"}) not in named(instrument("P4", "P5", "P6"))


def test_levers_that_nobody_can_tell_go_with_pedals_and_never_with_each_other() -> None:
    found = named(instrument("A", "Franz", "X"))
    assert {frozenset({"A", "Franz"}), frozenset({"A", "X"})} <= found
    assert frozenset({"Franz", "X"}) not in found


def test_a_pair_that_the_copedent_has_can_be_held_whatever_its_names() -> None:
    pair = frozenset({"Franz", "X"})
    assert pair in named(instrument("Franz", "X", pairs=(pair,)))


def test_half_pedals_where_half_is_a_semitone() -> None:
    halved = {hold.names[0] for hold in holds(E9, halves=True) if hold.levels and hold.levels[0][1] == 0.5}
    assert halved == {"A", "C", "RKL", "RKR"}


def test_changes_from_one_hold_to_another() -> None:
    assert Hold.full("A", "B").changed(Hold.full("B", "LKL")) == 2
    assert Hold((("A", 0.5),)).changed(Hold.full("A")) == 1
    assert NOTHING_HELD.changed(NOTHING_HELD) == 0
