"""How far a MIDI instrument's bends reach, from a slide of known width.

In: the messages of one string that is struck and then slid, and the time. Out: semitones at the full bend, once the
slide has come to rest. What is within `NEAR_SHARE` of a range that instruments have is that range: hands are not more
exact.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import mido

FULL = 8192
LEAST_BEND = 64
"""Of `FULL`: less is a hand that trembles."""
REST_S = 0.8
USUAL = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 12.0, 24.0, 36.0, 48.0, 96.0)
NEAR_SHARE = 0.06


class BendRange:
    """`feed` what comes; `semitones` is None until it is known."""

    def __init__(self, slide_semitones: float) -> None:
        self._slide = slide_semitones
        self._channel: int | None = None
        self._bends: dict[int, int] = {}
        self._start = 0
        self._moved_s = 0.0
        self.was_struck_anew = False
        """Whether a note began on the string while it was slid: the instrument changes keys instead of bending."""

    def feed(self, time_s: float, message: mido.Message) -> None:
        if message.type == "pitchwheel":
            self._bends[message.channel] = message.pitch
            if message.channel == self._channel:
                self._moved_s = time_s
        elif message.type == "note_on" and message.velocity > 0:
            is_sliding = message.channel == self._channel and self._moved > LEAST_BEND
            self.was_struck_anew = self.was_struck_anew or is_sliding
            self._channel, self._moved_s = message.channel, time_s
            self._start = self._bends.get(message.channel, 0)

    def semitones(self, now_s: float) -> float | None:
        """The bend range, if a slide has been at rest for a while."""
        if self._moved < LEAST_BEND or now_s - self._moved_s < REST_S:
            return None
        measured = self._slide * FULL / self._moved
        nearest = min(USUAL, key=lambda usual: abs(usual - measured))
        return nearest if abs(nearest - measured) <= NEAR_SHARE * nearest else round(measured, 2)

    @property
    def _moved(self) -> int:
        """How far the string has been bent since it was struck, of `FULL`."""
        return 0 if self._channel is None else abs(self._bends.get(self._channel, 0) - self._start)
