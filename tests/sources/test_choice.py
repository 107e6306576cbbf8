"""Choosing a device by what a player types."""

from __future__ import annotations

import pytest

from livecheck.errors import Unusable
from livecheck.sources.choice import chosen
from livecheck.sources.driver_message import Port

PORTS = [
    Port("Bridge: strings", "ALSA"),
    Port("Bridge: strings", "JACK"),
    Port("Keys", "ALSA"),
    Port("Keys two", "ALSA"),
]


@pytest.mark.parametrize(
    ("named", "index"),
    [("Bridge: strings (JACK)", 1), ("keys TWO", 3), ("Keys", 2), ("JACK", 1), ("two", 3)],
)
def test_a_name_or_a_part_of_it_is_enough(named: str, index: int) -> None:
    assert chosen(named, PORTS, "MIDI input") is PORTS[index]


def test_what_fits_several_is_told_with_all_that_it_fits() -> None:
    with pytest.raises(Unusable) as told:
        chosen("bridge", PORTS, "MIDI input")
    assert str(told.value) == (
        '"bridge" can be several MIDI inputs: "Bridge: strings (ALSA)", "Bridge: strings (JACK)"; '
        "wanted one of them, in full"
    )


def test_what_fits_none_is_told_with_all_that_there_are() -> None:
    with pytest.raises(Unusable) as told:
        chosen("violin", PORTS[1:3], "MIDI input")
    known = '"Bridge: strings (JACK)", "Keys (ALSA)"'
    assert str(told.value) == f'there is no MIDI input "violin"; wanted one of: {known}'


def test_where_there_is_nothing_to_choose_from() -> None:
    with pytest.raises(Unusable, match="wanted one of: none is there"):
        chosen("x", [], "audio input")
