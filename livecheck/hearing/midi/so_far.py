"""MIDI while the take goes on: the notes of its last part, as they are if it ended now, and glances of them."""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.midi.ear import GLIDE_GAP_S, JOIN_GAP_S, MidiEar, Sound
from livecheck.hearing.midi.glance import glances_of
from livecheck.hearing.midi.input import MidiInput
from livecheck.hearing.sound.ear import Glance
from livecheck.hearing.sound.salience import GRID_MIDI, HOP_S

MARGIN_S = 1.0
"""Notes that were over so long before a frame have nothing to do with it."""
LONGEST_S = 300.0
"""Nobody asks about what was over so long before the last thing that was asked about."""
UNSETTLED_S = GLIDE_GAP_S + 2.0 * JOIN_GAP_S
"""What comes so soon after a frame may still change it."""


class MidiEarSoFar(MidiEar):
    """A `MidiEar` that may be asked before the end."""

    def __init__(self, midi_input: MidiInput) -> None:
        super().__init__(midi_input)
        self._past = 0
        """So many of the first notes are not looked at any more."""
        self._told = 0

    def newly_struck(self) -> list[Sound]:
        """What was struck on strings since this was asked last, while it sounds; nothing from a source that retriggers,
        as only later messages tell what was struck there."""
        new, self._told = self._sounds[self._told :], len(self._sounds)
        return [] if self._retrigger else [sound for sound in new if sound.string is not None]

    def notes_since(self, from_s: float, now_s: float) -> list[HeardNote]:
        """Notes that sounded at a time or later, in order of their start; what still sounds ends now."""
        every = self._sounds
        while self._past < len(every) and (end_s := every[self._past].end_s) is not None and end_s < from_s - LONGEST_S:
            self._past += 1
        recent = every[self._past :]
        self._sounds = [copy(sound) for sound in recent if sound.end_s is None or sound.end_s >= from_s]
        try:
            return self.finish(now_s)
        finally:
            self._sounds = every

    def glances(self, first: int, stop: int, now_s: float) -> Iterator[Glance]:
        """Glances of the frames from one number up to another, silent where nothing sounds."""
        if stop <= first:
            return
        notes = self.notes_since(first * HOP_S - MARGIN_S, now_s)
        for glance in glances_of(notes, (first + 0.5) * HOP_S, (stop - 0.5) * HOP_S):
            first += len(glance.loud)
            yield glance
        if first < stop:
            nothing = np.zeros(stop - first, dtype=np.float32)
            yield Glance(np.zeros((stop - first, len(GRID_MIDI)), dtype=np.float32), nothing, nothing, nothing)
