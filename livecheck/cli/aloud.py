"""Playing something aloud by the default audio output, once or over and over without a gap."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from livecheck.cli.output import say
from livecheck.cli.stop import Stop

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LEAD_S = 0.5
"""From the output's opening to the first sound, to have it there in time."""
AHEAD_S = 2.0
"""So long before it is due, each time is handed over."""
LOOK_S = 0.05
RINGS_S = 0.3
"""How long what was handed over may still be on its way out."""


def play_aloud(sound: Callable[[int], NDArray[np.float32]], times: int) -> bool:
    """Play what `sound` gives for the output's rate, so many times; whether it was heard to its end. Unusable if there
    is no output."""
    from livecheck.sources.click import CAUTION
    from livecheck.sources.driver_message import Wanted
    from livecheck.sources.live_input import LiveInput

    with LiveInput(Wanted("speak")) as output, Stop() as stop:
        opened = output.open()
        assert opened.rate_hz is not None
        began_s = time.monotonic()
        samples = sound(opened.rate_hz)
        say(CAUTION)
        lead_s = LEAD_S + time.monotonic() - began_s
        lasts_s = len(samples) / opened.rate_hz
        for number in range(times):
            due_s = began_s + lead_s + number * lasts_s
            if not _wait(stop, due_s - AHEAD_S):
                break
            output.play(samples, round((lead_s + number * lasts_s) * opened.rate_hz))
        if _wait(stop, began_s + lead_s + times * lasts_s + RINGS_S):
            return True
        output.hush()
    return False


def _wait(stop: Stop, until_s: float) -> bool:
    """Let time pass; False if the player ended it."""
    while not stop.asked and (left_s := until_s - time.monotonic()) > 0.0:
        time.sleep(min(LOOK_S, left_s))
    return not stop.asked
