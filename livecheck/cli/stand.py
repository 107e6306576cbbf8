"""Where the player plays in practice: the input while it is waited, counted in and listened to, one attempt at a time.

Everything here happens on the frames of the device's stream.
"""

from __future__ import annotations

from collections import deque
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from livecheck.cli.foot_switch import FootSwitch
from livecheck.cli.last_sound import LastSound
from livecheck.cli.live_audio import OVER_CALM, LiveAudio
from livecheck.cli.output import say
from livecheck.cli.stop import Stop
from livecheck.engine import Brief
from livecheck.keeping.keeper import Keeper
from livecheck.keeping.latency import kept_latency_ms
from livecheck.lesson.span import Span
from livecheck.sources.driver_message import Block, Opened
from livecheck.sources.live_input import Back, LiveInput, Lost

SOON_S = 0.3
"""What is to be played is given so much ahead."""
BEFORE_S = 0.3
"""Of what came before the first sound, so much belongs to the attempt."""
LEAST_SOUND = 1e-3
"""Root mean square, full scale 1: -60 dB."""
OVER_BEFORE = 5.0
"""A string that begins is so many times as loud as what was there before."""
CALM_BLOCKS = 100
RINGS_SHARE = 0.05
"""Of the loudest of an attempt: 26 dB less, and what is told by ear covers no string."""
QUIET_S = 0.3


class Ended(Exception):
    """The player has ended the practice."""


class Broken(Exception):
    """The attempt counts nothing: the device went, or the player starts over."""


@dataclass(frozen=True)
class CountIn:
    """A click before an attempt, and during it if it goes on."""

    samples: NDArray[np.float32]
    until_start: int
    """Frames from its beginning to the figure's first beat."""


class Stand:
    """One device, in and out."""

    def __init__(self, source: LiveInput, opened: Opened, stop: Stop, foot: FootSwitch) -> None:
        assert opened.rate_hz is not None
        assert opened.channels is not None
        self.rate_hz = opened.rate_hz
        self.label = opened.label
        self._channels = opened.channels
        self._source = source
        self._stop = stop
        self._foot = foot
        self._levels: deque[float] = deque(maxlen=CALM_BLOCKS)
        self._before: deque[Block] = deque()
        self._loudest = LEAST_SOUND
        self._calm = 0.0
        """What was there before the attempt."""
        self._events = source.events()
        self._counts = False
        """Whether a count-in may go on as a click."""

    def latency_ms(self, folder: Path) -> float | None:
        """How long sound takes out of the device and back; None if that was not measured."""
        return kept_latency_ms(folder, self.label, self.rate_hz)

    def open(self) -> None:
        """Wait for the first sound of the device, be it silence; one that goes and comes back before is waited for."""
        with suppress(Broken):
            self._take()

    def wait(self, seconds: float) -> bool:
        """Let time pass, until the foot switch is pressed; True at once if the player just plays on."""
        until = self._source.frames + round(seconds * self.rate_hz)
        was_calm = False
        while self._source.frames < until and not self._foot.pressed():
            level = self._take()
            was_calm = was_calm or not self._rings(level)
            if was_calm and self._begins(level):
                return True
        return False

    def until_quiet(self, seconds: float) -> bool:
        """Wait for the strings to fade; False if they still ring after so long."""
        quiet_since = self._source.frames
        until = quiet_since + round(seconds * self.rate_hz)
        while self._source.frames < until:
            if self._rings(self._take()):
                quiet_since = self._source.frames
            if self._source.frames - quiet_since >= QUIET_S * self.rate_hz:
                return True
        return False

    def tell(self, samples: NDArray[np.float32]) -> None:
        """Play something to its end."""
        self._catch_up()
        begin = self._source.frames + round(SOON_S * self.rate_hz)
        self._source.play(samples, begin)
        while self._source.frames < begin + len(samples):
            self._take()

    def count_in(self, click: CountIn) -> int:
        """Play a count-in up to just before the figure's first beat; the frame of that beat, as it is played."""
        self._catch_up()
        begin = self._source.frames + round(SOON_S * self.rate_hz)
        self._source.play(click.samples, begin)
        start = begin + click.until_start
        self._counts = True
        while self._source.frames < start - round(BEFORE_S * self.rate_hz):
            self._take()
        self._before.clear()
        return start

    def until_played(self) -> int:
        """Wait until the player begins; the frame at which what is kept of the time before begins."""
        while not self._begins(self._take()):
            if self._foot.pressed():
                raise Broken
        self._calm = min(self._levels)
        return self._source.frames - sum(self._frames_of(block) for block in self._before)

    def attempt(self, brief: Brief, keeper: Keeper, span: Span) -> LiveAudio:
        """Listen until the attempt is over; what was heard of it."""
        live = LiveAudio(brief, keeper, self.rate_hz, self._channels, self._calm)
        try:
            while self._before:
                live.feed(self._before.popleft())
            self._loudest = LEAST_SOUND
            began_s, last = live.time_s, LastSound()
            while not span.is_over(live.time_s - began_s, live.quiet_s):
                self._loudest = max(self._loudest, self._take())
                live.feed(self._before.pop())
                lasted_s = last.lasted_s(live.time_s - began_s, live.quiet_s)
                if self._foot.pressed() or span.is_knock(lasted_s, live.quiet_s):
                    raise Broken
        finally:
            live.end()
            if self._counts:
                self._counts = False
                self._source.hush()
        return live

    def _catch_up(self) -> None:
        """Take in what came while this program was at work: what is to be played soon must not be too late."""
        while self._source.is_behind:
            self._take()

    def _take(self) -> float:
        """Take in one block; its root mean square."""
        block = self._block()
        samples = np.frombuffer(block.samples, dtype=np.float32)[self._channels - 1 :: self._channels]
        level = float(np.sqrt(np.mean(samples * samples))) if len(samples) else 0.0
        self._levels.append(level)
        self._before.append(block)
        while sum(self._frames_of(one) for one in self._before) > BEFORE_S * self.rate_hz:
            self._before.popleft()
        return level

    def _rings(self, level: float) -> bool:
        """Whether strings are heard in a block so loud."""
        return level > max(RINGS_SHARE * self._loudest, OVER_CALM * self._calm, LEAST_SOUND)

    def _begins(self, level: float) -> bool:
        """Whether a block so loud is the beginning of something: beside the calmer half of what came lately."""
        return level > max(LEAST_SOUND, OVER_BEFORE * float(np.median(self._levels)))

    def _frames_of(self, block: Block) -> int:
        return len(block.samples) // (4 * self._channels)

    def _block(self) -> Block:
        for event in self._events:
            if self._stop.asked:
                raise Ended
            if isinstance(event, Block):
                return event
            if isinstance(event, Lost):
                say(f"{self.label} has gone; waiting for it")
            elif isinstance(event, Back):
                say(f"{self.label} is back; once more")
                self._before.clear()
                raise Broken
        raise Ended
