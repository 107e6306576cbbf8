"""Choosing a device or a port by what a player types."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol, TypeVar

from livecheck.errors import Unusable


class Named(Protocol):
    """What can be chosen: its name, and the name with its system, which tells it from all others."""

    @property
    def name(self) -> str: ...

    @property
    def label(self) -> str: ...


Offered = TypeVar("Offered", bound=Named)


def chosen(named: str, offered: Sequence[Offered], kind: str) -> Offered:
    """The one called so, or the only one with `named` in its name; `kind` is "audio input" or "MIDI input".

    Unusable if there is none, or more than one.
    """
    known = ", ".join(f'"{one.label}"' for one in offered) or "none is there"
    for matches in (
        [one for one in offered if one.label == named],
        [one for one in offered if one.name == named],
        [one for one in offered if named.casefold() in one.label.casefold()],
    ):
        if len(matches) == 1:
            return matches[0]
        if matches:
            several = ", ".join(f'"{one.label}"' for one in matches)
            raise Unusable(f'"{named}" can be several {kind}s: {several}; wanted one of them, in full')
    raise Unusable(f'there is no {kind} "{named}"; wanted one of: {known}')
