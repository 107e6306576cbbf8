"""From the text of an input file (how one MIDI instrument speaks) to a `MidiInput`."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from msgspec import Meta, Struct

from livecheck.errors import Unusable
from livecheck.hearing.midi.input import CHANNELS, DEFAULT_BEND_SEMITONES, MidiInput
from livecheck.lesson.reading import read_document

WIDEST_BEND_SEMITONES = 127.0
"""RPN 0 gives whole semitones in seven bits."""


class InputFile(Struct, forbid_unknown_fields=True, kw_only=True):
    """A MIDI instrument: which string is on which channel, how far its bends reach."""

    format: Annotated[Literal[1], Meta(description="Always 1.")]
    name: Annotated[str, Meta(description="What people call this kind of instrument.")] = ""
    bend_semitones: Annotated[
        float, Meta(description="The bend range, up and down, until the take itself says otherwise by RPN 0.")
    ] = DEFAULT_BEND_SEMITONES
    retrigger: Annotated[
        bool, Meta(description="A note-on that continues the pitch curve without a gap is no pick.")
    ] = False
    channels: Annotated[
        dict[int, int],
        Meta(description="String -> MIDI channel, 1 to 16. What comes on other channels is of no known string."),
    ] = {}


def read_input(text: str, where: str) -> MidiInput:
    """An input from the text of its file; `where` names it in messages."""
    document = read_document(text, InputFile, where)
    bend = document.bend_semitones
    if not (math.isfinite(bend) and 0.0 < bend <= WIDEST_BEND_SEMITONES):
        raise Unusable(f"{where}: bend_semitones is {bend:g}; wanted above zero, at most {WIDEST_BEND_SEMITONES:g}")
    strings: dict[int, int] = {}
    for string, channel in document.channels.items():
        if string < 1:
            raise Unusable(f"{where}: channels names string {string}; strings count from 1")
        if not 1 <= channel <= CHANNELS:
            raise Unusable(f"{where}: string {string} is on channel {channel}; wanted 1 to {CHANNELS}")
        if channel in strings:
            both = f"strings {strings[channel]} and {string} are both on channel {channel}"
            raise Unusable(f"{where}: {both}; wanted a channel for each")
        strings[channel] = string
    return MidiInput(strings, bend, document.retrigger)
