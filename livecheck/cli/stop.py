"""Ending a take from outside: the first Ctrl-C ends what is being played, a second one ends the program."""

from __future__ import annotations

import signal
from types import FrameType, TracebackType

SIGNALS = (signal.SIGINT, signal.SIGTERM)


class Stop:
    """`with Stop() as stop: while not stop.asked: …`."""

    def __init__(self) -> None:
        self.asked = False

    def __enter__(self) -> Stop:
        for number in SIGNALS:
            signal.signal(number, self._ask)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._let_go()

    def _ask(self, _number: int, _frame: FrameType | None) -> None:
        self.asked = True
        self._let_go()

    def _let_go(self) -> None:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
