"""Live input: what comes from a device or a port, also across its being pulled out and plugged in again.

Sound arrives as `Block`, MIDI as `Sent`, in order and without a time of day; of an output alone comes `Begun`. `Lost`
comes once when the device has gone; from then on it is looked for, and `Back` comes once when it is open again, at the
rate it had.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from types import TracebackType
from typing import TYPE_CHECKING, Literal

from msgspec.structs import replace

from livecheck.errors import Unusable
from livecheck.sources.driver_message import Begun, Block, Hush, Opened, Refused, Sent, Sound, Stopped, Wanted
from livecheck.sources.driver_process import PATIENCE_S, DriverProcess

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SAMPLE_BYTES = 4
LOOK_S = 0.05
SOON_S = 0.003
"""Between turns when nothing comes: as a rule, and while something may become certain at any moment."""
AGAIN_S = 1.0
"""How long to wait before looking for a lost device again."""


@dataclass(frozen=True)
class Lost:
    """The device has gone."""


@dataclass(frozen=True)
class Back:
    """The device is open again."""


Event = Block | Sent | Begun | Lost | Back


class LiveInput:
    """`with LiveInput(wanted) as source: opened = source.open(); for event in source.events(): …`."""

    def __init__(self, wanted: Wanted) -> None:
        self._wanted = wanted
        self._driver: DriverProcess | None = DriverProcess(wanted)
        self._channels = 1
        self.turn_s = LOOK_S
        """How often the listener gets a turn when nothing comes."""
        self.frames = 0
        """How many have been heard since the device was opened, for the last time."""

    def __enter__(self) -> LiveInput:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def open(self) -> Opened:
        """Wait until the device is open. Unusable if it cannot be."""
        message = None if self._driver is None else self._driver.next(PATIENCE_S)
        if isinstance(message, Opened):
            # From now on just this one will do, or any output at its rate.
            if self._wanted.what == "speak":
                self._wanted = replace(self._wanted, rate_hz=message.rate_hz)
            else:
                what: Literal["audio", "midi"] = "midi" if message.rate_hz is None else "audio"
                self._wanted = replace(self._wanted, what=what, named=message.label, rate_hz=message.rate_hz)
            self._channels = message.channels or 1
            return message
        if isinstance(message, Refused):
            raise Unusable(message.why)
        how = "hangs" if message is None else "broke down"
        raise Unusable(f"the driver of the input {how}; wanted one that answers: try another, or start it anew")

    @property
    def is_behind(self) -> bool:
        """Whether more has been heard than was looked at: `frames` is in the past."""
        return self._driver is not None and self._driver.is_waiting

    def play(self, samples: NDArray[np.float32], at: int) -> None:
        """Play mono sound from a frame on, counted as `frames` is; for devices that were wanted to speak."""
        if self._driver is not None:
            self._driver.send(Sound(samples.tobytes(), at))

    def hush(self) -> None:
        """Play no more of what was given to be played."""
        if self._driver is not None:
            self._driver.send(Hush())

    def events(self) -> Iterator[Event | None]:
        """What comes, once it is open; None whenever nothing has come for a moment. It ends never."""
        while True:
            message = None if self._driver is None else self._driver.next(self.turn_s)
            if isinstance(message, Block):
                self.frames += len(message.samples) // (SAMPLE_BYTES * self._channels)
                yield message
            elif isinstance(message, Sent | Begun):
                yield message
            elif isinstance(message, Stopped):
                self.close()
                yield Lost()
                yield from self._waiting()
                yield Back()
            else:
                yield None

    def _waiting(self) -> Iterator[None]:
        """Turns until the device is open again."""
        while True:
            driver = self._driver = DriverProcess(self._wanted)
            message, until_s = None, time.monotonic() + PATIENCE_S
            while message is None and time.monotonic() < until_s:
                message = driver.next(LOOK_S)
                yield None
            if isinstance(message, Opened):
                self.frames = 0
                return
            self.close()
            until_s = time.monotonic() + AGAIN_S
            while time.monotonic() < until_s:
                time.sleep(LOOK_S)
                yield None

    def close(self) -> None:
        if self._driver is not None:
            self._driver.close()
            self._driver = None
