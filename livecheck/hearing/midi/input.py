"""How a MIDI instrument speaks: which channel is which string, and what its bends and note-ons mean."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

CHANNELS = 16
DEFAULT_BEND_SEMITONES = 2.0


@dataclass(frozen=True)
class MidiInput:
    """An instrument's MIDI side as values."""

    channels: Mapping[int, int]
    """Channel (1 to 16) -> string; a channel that is not here has no string."""
    bend_semitones: float = DEFAULT_BEND_SEMITONES
    """The bend range until the take itself gives another by RPN 0."""
    retrigger: bool = False
    """A note-on that continues the pitch curve without a gap is no pick."""

    def for_strings(self, strings: int) -> MidiInput:
        """The same for an instrument of so many strings: channels of strings that it lacks have none."""
        kept = {channel: string for channel, string in self.channels.items() if string <= strings}
        return MidiInput(kept, self.bend_semitones, self.retrigger)
