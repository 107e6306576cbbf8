"""The same work on many things: one after the other, or, where the world outside knows how, several at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

Thing = TypeVar("Thing")
Result = TypeVar("Result")


class Spread(Protocol):
    """Does work on things that do not depend on each other; the results in the order of the things.

    The first is done before the others, so that they find what it prepared for all.
    """

    def __call__(self, work: Callable[[Thing], Result], things: Sequence[Thing]) -> list[Result]: ...


def one_by_one(work: Callable[[Thing], Result], things: Sequence[Thing]) -> list[Result]:
    """One after the other."""
    return [work(thing) for thing in things]
