"""The audio output beside a MIDI instrument: what is played by it, and what becomes of it when it is pulled out."""

from __future__ import annotations

import time

import numpy as np
from numpy.typing import NDArray

from livecheck.cli.output import say
from livecheck.sources.driver_message import Begun, Opened
from livecheck.sources.live_input import LOOK_S, Back, LiveInput, Lost

BEGUN_S = 1.0
"""An output begins within this."""


class Output:
    """`look_after` it now and then, so that its loss is told at once."""

    def __init__(self, source: LiveInput, opened: Opened) -> None:
        assert opened.rate_hz is not None
        self.rate_hz = opened.rate_hz
        self._label = opened.label
        self._source = source
        self._events = source.events()
        self._is_there = True

    def play(self, samples: NDArray[np.float32]) -> bool:
        """Play mono sound at once; whether there is anything to play it by."""
        self.look_after()
        if self._is_there:
            self._source.play(samples, 0)
        return self._is_there

    def hush(self) -> None:
        """Play no more of it."""
        self._source.hush()

    def begun_s(self) -> float | None:
        """When what was given last came out of it, by the machine's monotonic clock; None if it does not tell soon."""
        until_s = time.monotonic() + BEGUN_S
        while self._is_there and (left_s := until_s - time.monotonic()) > 0.0:
            event = self._next(left_s)
            if isinstance(event, Begun):
                return event.moment_s
        return None

    def look_after(self) -> None:
        """Take in what it tells of itself."""
        while self._next(0.0) is not None:
            pass

    def _next(self, patience_s: float) -> object:
        self._source.turn_s = min(patience_s, LOOK_S)
        event = next(self._events)
        if isinstance(event, Lost):
            self._is_there = False
            say(f"{self._label} has gone; no click, nothing by ear until it is back")
        elif isinstance(event, Back):
            self._is_there = True
            say(f"{self._label} is back")
        return event
