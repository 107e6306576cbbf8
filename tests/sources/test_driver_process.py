"""Waiting for a driver that says nothing ends when it should, whatever signals come meanwhile."""

from __future__ import annotations

import signal
import time

from livecheck.sources.driver_message import Wanted
from livecheck.sources.driver_process import DriverProcess

TURNS = 3_000
PATIENCE_S = 0.001


def test_it_is_never_waited_for_ever() -> None:
    with DriverProcess(Wanted("list")) as driver:
        assert driver.next(20.0) is not None
        while driver.next(1.0) is not None:
            pass
        before = signal.signal(signal.SIGALRM, lambda *_: time.sleep(0.0005))
        signal.setitimer(signal.ITIMER_REAL, 0.0007, 0.0007)
        try:
            found = [driver.next(PATIENCE_S) for _ in range(TURNS)]
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
            signal.signal(signal.SIGALRM, before)
    assert found == [None] * TURNS
