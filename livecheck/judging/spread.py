"""Pieces of work that do not depend on each other: one after the other, or, where the world outside knows how, several
at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

Thing = TypeVar("Thing")
Result = TypeVar("Result")
Other = TypeVar("Other")


class Spread(Protocol):
    """How such pieces are done."""

    def each(self, work: Callable[[Thing], Result], things: Sequence[Thing]) -> list[Result]:
        """The same work on some things; the results in their order.

        The first is done before the others, so that they find what it prepared for all.
        """

    def both(self, work: Callable[[], Result], beside: Callable[[], Other]) -> tuple[Result, Other]:
        """Two pieces of work and their results; whatever else `beside` does may be lost."""


class OneByOne:
    """One after the other."""

    def each(self, work: Callable[[Thing], Result], things: Sequence[Thing]) -> list[Result]:
        return [work(thing) for thing in things]

    def both(self, work: Callable[[], Result], beside: Callable[[], Other]) -> tuple[Result, Other]:
        return work(), beside()


ONE_BY_ONE = OneByOne()
