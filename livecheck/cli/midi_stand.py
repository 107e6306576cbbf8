"""Where a player of a MIDI instrument plays in practice: as `cli/stand.py`, by messages and this machine's clock.

What is played goes to an audio output, if there is one. The bend ranges and bends that a port has told are given to
each attempt anew: it is a take of its own.
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from livecheck.cli.foot_switch import FootSwitch
from livecheck.cli.last_sound import LastSound
from livecheck.cli.live_midi import LiveMidi
from livecheck.cli.output import say
from livecheck.cli.output_beside import Output
from livecheck.cli.stand import BEFORE_S, Broken, CountIn, Ended
from livecheck.cli.stop import Stop
from livecheck.engine import Brief
from livecheck.hearing.midi.input import MidiInput
from livecheck.keeping.keeper import Keeper
from livecheck.lesson.span import Span
from livecheck.sources.driver_message import Opened, Sent
from livecheck.sources.live_input import Back, LiveInput, Lost

NO_OUTPUT_HZ = 8_000
"""A rate at which nothing is played."""
NOTE_OFF, NOTE_ON, CONTROL, BEND = 0x80, 0x90, 0xB0, 0xE0
RPN = (101, 100, 6, 38)
"""The controls by which a registered parameter is chosen and set, in that order (MIDI 1.0); RPN 0 is the bend range."""


class MidiStand:
    """One port, and the output beside it."""

    def __init__(
        self,
        source: LiveInput,
        opened: Opened,
        stop: Stop,
        foot: FootSwitch,
        midi_input: MidiInput,
        output: tuple[LiveInput, Opened] | None,
    ) -> None:
        """`output`, as it was opened; None where there is none."""
        self.label = opened.label
        self._output = None if output is None else Output(*output)
        self.rate_hz = NO_OUTPUT_HZ if self._output is None else self._output.rate_hz
        self._stop = stop
        self._foot = foot
        self._midi_input = midi_input
        self._events = source.events()
        self._held: set[tuple[int, int]] = set()
        """Channel and note."""
        self._silent_s = time.monotonic()
        """Since when no note has been held."""
        self._told: dict[tuple[int, int], Sent] = {}
        """Channel and control, or channel and BEND -> what was said of it last."""
        self._first: Sent | None = None
        self._began_s = time.monotonic()
        self._counts = False
        """Whether a count-in may go on as a click."""

    def open(self) -> None:
        """A port needs no waiting for."""

    def wait(self, seconds: float) -> bool:
        """Let time pass, until the foot switch is pressed; True at once if the player just plays on."""
        until_s = time.monotonic() + seconds
        while self._first is None and time.monotonic() < until_s and not self._foot.pressed():
            self._begins(self._take())
        return self._first is not None

    def until_quiet(self, seconds: float) -> bool:
        """Wait for the last note to end; False if one is held for longer."""
        until_s = time.monotonic() + seconds
        while self._held and time.monotonic() < until_s:
            self._take()
        return not self._held

    def tell(self, samples: NDArray[np.float32]) -> None:
        """Play something to its end, or until the player plays on."""
        if self._output is not None and self._output.play(samples) and self.wait(len(samples) / self.rate_hz):
            self._output.hush()

    def count_in(self, click: CountIn) -> int | None:
        """Play a count-in up to just before the figure's first beat; the frame of that beat, as it comes out of the
        output, None if that is not known."""
        begin_s = None
        if self._output is not None and self._output.play(click.samples):
            self._counts = True
            begin_s = self._output.begun_s()
        until_start_s = click.until_start / self.rate_hz
        until_s = (time.monotonic() if begin_s is None else begin_s) + until_start_s - BEFORE_S
        while time.monotonic() < until_s:
            self._take()
        self._first = None
        return None if begin_s is None else self._frame(begin_s + until_start_s)

    def until_played(self) -> int:
        """Wait until the player begins; the frame at which that was."""
        while self._first is None:
            self._begins(self._take())
            if self._foot.pressed():
                raise Broken
        return self._frame(time.monotonic())

    def latency_ms(self, _: Path) -> float | None:
        """What an output says of itself is taken off already; a message takes no time that counts."""
        return None if self._output is None else 0.0

    def _frame(self, moment_s: float) -> int:
        """Frames since this was made, at the rate of the output."""
        return round((moment_s - self._began_s) * self.rate_hz)

    def attempt(self, brief: Brief, keeper: Keeper, span: Span) -> LiveMidi:
        """Listen until the attempt is over; what was heard of it."""
        live = LiveMidi(brief, keeper, self._midi_input)
        began_s = time.monotonic()
        try:
            for said in [*self._settings(), self._first]:
                if said is not None:
                    live.feed(Sent(0.0, said.data))
            self._first = None
            last = LastSound()
            while not span.is_over(time_s := time.monotonic() - began_s, quiet_s := self._quiet_s()):
                sent = self._take()
                if sent is not None:
                    live.feed(sent)
                if self._foot.pressed() or span.is_knock(last.lasted_s(time_s, quiet_s), quiet_s):
                    raise Broken
        finally:
            live.end()
            if self._output is not None and self._counts:
                self._counts = False
                self._output.hush()
        return live

    def _quiet_s(self) -> float:
        """How long no note has been held."""
        return 0.0 if self._held else time.monotonic() - self._silent_s

    def _settings(self) -> list[Sent]:
        channels = sorted({channel for channel, _ in self._told})
        return [
            self._told[key] for channel in channels for what in (*RPN, BEND) if (key := (channel, what)) in self._told
        ]

    def _begins(self, sent: Sent | None) -> bool:
        """Whether a message is the beginning of something; then it is the first of the next attempt."""
        if sent is None or sent.data[0] & 0xF0 != NOTE_ON or not sent.data[2]:
            return False
        self._first = sent
        return True

    def _take(self) -> Sent | None:
        """Take in what comes within a moment."""
        event = next(self._events)
        if self._stop.asked:
            raise Ended
        if event is None and self._output is not None:
            self._output.look_after()
        if isinstance(event, Sent):
            self._note(event.data)
            return event
        if isinstance(event, Lost):
            say(f"{self.label} has gone; waiting for it")
            self._held.clear()
        elif isinstance(event, Back):
            say(f"{self.label} is back; once more")
            raise Broken
        return None

    def _note(self, data: bytes) -> None:
        kind, channel = data[0] & 0xF0, data[0] & 0x0F
        if kind == CONTROL and data[1] in RPN:
            self._told[channel, data[1]] = Sent(0.0, data)
        elif kind == BEND:
            self._told[channel, BEND] = Sent(0.0, data)
        elif kind == NOTE_ON and data[2]:
            self._held.add((channel, data[1]))
        elif kind in (NOTE_ON, NOTE_OFF):
            self._held.discard((channel, data[1]))
            self._silent_s = time.monotonic()
