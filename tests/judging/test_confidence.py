"""How sure a verdict is."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from livecheck.judging.confidence import Basis, confidence_of
from livecheck.judging.verdict import CheckpointVerdict, FigureVerdict
from livecheck.lesson.figure import Figure

CLEAR = Basis(said=True, heard=True, support=1.0, free=1.0, margin=1.0, right=1.0)


def test_a_clear_verdict_is_nearly_certain() -> None:
    assert confidence_of(CLEAR) >= 0.95


@pytest.mark.parametrize("less", [{"support": 0.3}, {"free": 0.2}, {"margin": 0.01}, {"right": 0.5}])
def test_whatever_is_missing_makes_it_less_sure(less: dict[str, Any]) -> None:
    assert confidence_of(replace(CLEAR, **less)) < confidence_of(CLEAR)


def test_what_is_said_needs_more_than_what_is_not() -> None:
    unclear = replace(CLEAR, support=0.5, margin=0.1)
    assert confidence_of(unclear) < confidence_of(replace(unclear, said=False))


def test_a_string_that_another_one_covers_is_not_accused_of_missing() -> None:
    missed = replace(CLEAR, heard=False, support=0.0, free=0.0)
    assert confidence_of(missed) < 0.5


@pytest.mark.parametrize("support", [0.0, 1.0])
@pytest.mark.parametrize("right", [0.0, 1.0])
def test_it_is_a_probability(support: float, right: float) -> None:
    assert 0.0 < confidence_of(replace(CLEAR, support=support, right=right)) < 1.0


def test_what_is_unsure_lets_practice_go_on() -> None:
    missed = CheckpointVerdict(
        1, 5, "pick", None, 1.0, True, 0.0, None, None, 60.0, None, None, ("missed",), confidence=0.4
    )
    figure = FigureVerdict(Figure("1", Fraction(4), ()), 1, True, 0.0, 60.0, (missed,), ())
    assert figure.passed
    assert not figure.clean
    assert not replace(figure, checkpoints=(replace(missed, confidence=0.6),)).passed
