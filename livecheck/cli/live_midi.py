"""A take of MIDI while it is played: messages go to the file and to the engine, at the same times to both.

Time is the sum of what the driver says lay between messages, in whole ticks of the file; the first is at 0.
"""

from __future__ import annotations

import time
from collections.abc import Sequence

import mido

from livecheck.engine import Brief, MidiEngine
from livecheck.hearing.midi.input import CHANNELS, MidiInput
from livecheck.judging.meanwhile.remark import Remark
from livecheck.judging.verdict import FigureVerdict, TakeVerdict
from livecheck.keeping.keeper import Keeper
from livecheck.keeping.midi_take import TICK_S, ticks_of
from livecheck.sources.driver_message import Block, Sent
from livecheck.sources.live_input import LOOK_S, SOON_S
from livecheck.sources.midi_file import LONGEST_PAUSE_S

PAUSE_S = 2.0
"""The rest in the take for the time, however long, that a port was away: no figure goes on across it."""
FIRST_STATUS, FIRST_SYSTEM = 0x80, 0xF0
"""Between these lie the messages of channels; what belongs to the system is none of a take's business."""
ALL_SOUND_OFF = 120
FORGOTTEN_S = LONGEST_PAUSE_S - 60.0


class LiveMidi:
    """`feed` what comes, `end` the take, `finish` gives the verdict."""

    def __init__(self, brief: Brief, keeper: Keeper, midi_input: MidiInput) -> None:
        self._engine = MidiEngine(brief, midi_input)
        self._keeper = keeper
        self._now_s = 0.0
        self._came_s: float | None = None
        """When the last message came, by this machine's clock; only to know how long nothing has come."""
        self.gaps_s: list[float] = []
        """Where something is missing."""
        self.overflows = 0
        keeper.begin_midi()

    @property
    def time_s(self) -> float:
        return self._now_s

    @property
    def quiet_s(self) -> float:
        """How long nothing has come since something did; 0 before."""
        return 0.0 if self._came_s is None else time.monotonic() - self._came_s

    @property
    def is_forgotten(self) -> bool:
        """Whether nothing has come for so long that the take could not be read any more if it went on."""
        return self.quiet_s >= FORGOTTEN_S

    @property
    def seems_dead(self) -> bool:
        """An instrument that is not played sends nothing; that says nothing."""
        return False

    def feed(self, sent: Block | Sent) -> None:
        assert isinstance(sent, Sent)
        self._now_s += 0.0 if self._came_s is None else sent.delta_s
        if FIRST_STATUS <= sent.data[0] < FIRST_SYSTEM:
            self._came_s = time.monotonic()
            self._add(mido.Message.from_bytes(sent.data))

    def pause(self) -> None:
        """The port has gone; what sounded is over."""
        self._now_s += self.quiet_s
        self.gaps_s.append(self._now_s)
        for channel in range(CHANNELS if self._came_s is not None else 0):
            self._add(mido.Message("control_change", channel=channel, control=ALL_SOUND_OFF))
        self._now_s += PAUSE_S
        if self._came_s is not None:
            self._came_s = time.monotonic()

    def ended(self) -> Sequence[FigureVerdict]:
        """The figures that have ended since this was asked last, as they look so far."""
        return self._engine.ended(self._now_s + self.quiet_s)

    def certain(self) -> Sequence[Remark]:
        """What has become certain of the figure that is being played since this was asked last."""
        return self._engine.certain(self._now_s + self.quiet_s)

    @property
    def turn_s(self) -> float:
        """How soon to ask again though nothing comes."""
        return SOON_S if self._engine.is_waiting else LOOK_S

    def end(self) -> None:
        self._now_s += self.quiet_s
        tick = ticks_of(self._now_s)
        self._keeper.end(tick)
        self._engine.feed(tick * TICK_S, mido.MetaMessage("end_of_track"))

    def finish(self) -> TakeVerdict:
        return self._engine.finish(self._keeper.path)

    def _add(self, message: mido.Message) -> None:
        tick = ticks_of(self._now_s)
        self._keeper.message(tick, bytes(message.bytes()))
        self._engine.feed(tick * TICK_S, message)
