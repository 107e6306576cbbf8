"""The near end of the driver process: starts it, and gives its messages as they come."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path
from queue import Empty, Queue
from types import TracebackType

import msgspec

import livecheck
from livecheck.errors import Unusable
from livecheck.sources.driver_message import Listing, Message, Refused, Stopped, Wanted, receive, send

PATIENCE_S = 20.0
"""A sound system that does not list its devices within this hangs."""
CLOSING_S = 1.5
"""A little longer than the process gives its drivers to close."""


class DriverProcess:
    """`with DriverProcess(wanted) as driver: message = driver.next(0.1)`."""

    def __init__(self, wanted: Wanted) -> None:
        # Started early, while this program goes on importing: it takes a third of a second to open a device.
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "livecheck.sources.driver", msgspec.json.encode(wanted).decode()],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=_environment(),
            start_new_session=True,  # a Ctrl-C is for the program that listens
        )
        # No SimpleQueue: where a signal comes just as its patience ends, it waits for ever (CPython 3.11).
        self._messages: Queue[Message] = Queue()
        self._receiver = threading.Thread(target=self._receive, daemon=True)
        self._receiver.start()

    def __enter__(self) -> DriverProcess:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def next(self, patience_s: float) -> Message | None:
        """The next message, `Stopped` at the end; None if none comes within `patience_s`."""
        try:
            return self._messages.get(timeout=patience_s)
        except Empty:
            return None

    @property
    def is_waiting(self) -> bool:
        """Whether there is a message that has come already."""
        return not self._messages.empty()

    def send(self, message: Message) -> None:
        """Give it a message; nothing happens if it has gone, which `next` tells."""
        assert self._process.stdin is not None
        with suppress(OSError):
            send(message, self._process.stdin)

    def close(self) -> None:
        """End the process; what it has not yet given is lost."""
        assert self._process.stdin is not None
        with suppress(OSError):
            self._process.stdin.close()
        try:
            self._process.wait(CLOSING_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._receiver.join()
        assert self._process.stdout is not None
        self._process.stdout.close()

    def _receive(self) -> None:
        assert self._process.stdout is not None
        while (message := receive(self._process.stdout)) is not None:
            self._messages.put(message)
        self._messages.put(Stopped())


def listing() -> Listing:
    """What there is to listen to. Unusable if the sound system gives no answer."""
    with DriverProcess(Wanted("list")) as driver:
        message = driver.next(PATIENCE_S)
    if isinstance(message, Listing):
        return message
    said = message.why if isinstance(message, Refused) else "it hangs" if message is None else "its driver broke down"
    raise Unusable(f"the sound system does not tell its devices ({said}); wanted one that answers; restart it")


def _environment() -> dict[str, str]:
    """The same livecheck for the driver process, and no server started by only asking whether there is one."""
    package = str(Path(livecheck.__file__).parents[1])
    paths = os.pathsep.join(filter(None, [package, os.environ.get("PYTHONPATH")]))
    return {**os.environ, "PYTHONPATH": paths, "JACK_NO_START_SERVER": "1"}
