"""An input, or an output alone, across its being lost: which one is looked for then."""

from __future__ import annotations

from itertools import islice

import pytest

from livecheck.sources import live_input
from livecheck.sources.driver_message import Message, Opened, Stopped, Wanted
from livecheck.sources.live_input import Back, LiveInput, Lost


class _Driver:
    """Opens what is wanted at its own rate if none is, and is lost at once."""

    asked: list[Wanted]

    def __init__(self, wanted: Wanted) -> None:
        self.asked.append(wanted)
        self._says: list[Message] = [Opened("Desk (Pulse)", wanted.rate_hz or 48_000, 1), Stopped()]

    def next(self, _: float) -> Message | None:
        return self._says.pop(0) if self._says else None

    def close(self) -> None:
        pass


@pytest.mark.parametrize(
    ("wanted", "then"),
    [
        (Wanted("any"), Wanted("audio", "Desk (Pulse)", 48_000)),
        # The default output may be another one by then, but what is played was made for this rate.
        (Wanted("speak"), Wanted("speak", None, 48_000)),
    ],
)
def test_what_was_lost_is_looked_for_at_the_rate_it_had(
    wanted: Wanted, then: Wanted, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_Driver, "asked", [], raising=False)
    monkeypatch.setattr(live_input, "DriverProcess", _Driver)
    with LiveInput(wanted) as source:
        assert source.open().rate_hz == 48_000
        told = [event for event in islice(source.events(), 3) if event is not None]
    assert told == [Lost(), Back()]
    assert _Driver.asked == [wanted, then]
