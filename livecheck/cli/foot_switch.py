"""A foot switch: any MIDI message from a port, whatever it says, is one press."""

from __future__ import annotations

import threading
import time

from livecheck.cli.output import say
from livecheck.sources.driver_message import Sent, Wanted
from livecheck.sources.live_input import Back, LiveInput, Lost

APART_S = 0.3
"""What comes closer is one press: switches send when they go down and when they come up, and some bounce."""


class FootSwitch:
    """Without a port it is never pressed. `close` it."""

    def __init__(self, port: str | None) -> None:
        self._pressed = threading.Event()
        self._closed = False
        self._source = None if port is None else LiveInput(Wanted("midi", port))
        self._thread: threading.Thread | None = None

    def open(self) -> None:
        """Wait until the port is open. Unusable if it cannot be."""
        if self._source is not None:
            opened = self._source.open()
            self._thread = threading.Thread(target=self._watch, args=[self._source, opened.label], daemon=True)
            self._thread.start()

    def pressed(self) -> bool:
        """Whether it was pressed since this was asked last."""
        was = self._pressed.is_set()
        self._pressed.clear()
        return was

    def close(self) -> None:
        self._closed = True
        if self._thread is not None:
            self._thread.join()
        if self._source is not None:
            self._source.close()

    def _watch(self, source: LiveInput, label: str) -> None:
        last_s = 0.0
        for event in source.events():
            if self._closed:
                return
            if isinstance(event, Sent) and time.monotonic() - last_s > APART_S:
                last_s = time.monotonic()
                self._pressed.set()
            elif isinstance(event, Lost):
                say(f"{label} has gone; no foot switch until it is back")
            elif isinstance(event, Back):
                say(f"{label} is back")
