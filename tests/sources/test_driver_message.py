"""What the driver process says arrives as it was said."""

from __future__ import annotations

import io

import pytest

from livecheck.sources.driver_message import (
    Block,
    Device,
    Listing,
    Message,
    Opened,
    Port,
    Refused,
    Sent,
    Stopped,
    receive,
    send,
)

DEVICE = Device("Interface", "ALSA", 2, 44_100, (44_100, 48_000), 8.7, True)
MESSAGES: list[Message] = [
    Listing((DEVICE,), (Port("Bridge", "JACK"),), ("no sequencer",)),
    Opened("Interface (ALSA)", 44_100, 2),
    Block(bytes(range(256)) * 300, 1),
    Sent(0.0125, b"\x90\x3c\x40"),
    Stopped(),
    Refused("no such port"),
]


def test_every_message_comes_back_equal_and_in_order() -> None:
    stream = io.BytesIO()
    for message in MESSAGES:
        send(message, stream)
    stream.seek(0)
    assert [receive(stream) for _ in MESSAGES] == MESSAGES
    assert receive(stream) is None


@pytest.mark.parametrize("left", [1, 3, 4, 5, 20])
def test_a_message_that_breaks_off_is_the_end(left: int) -> None:
    stream = io.BytesIO()
    send(MESSAGES[0], stream)
    assert receive(io.BytesIO(stream.getvalue()[:left])) is None
