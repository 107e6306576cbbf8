"""What the program and its driver process say to each other.

In: one `Wanted`, as JSON, when the driver process is started, then `Sound`. Out: all the others. Each message after the
first is four bytes of length (big-endian) and that many bytes of MessagePack. Sound is float32, full scale 1, channels
interleaved; MIDI is the bytes of one message.
"""

from __future__ import annotations

from typing import IO, Literal

import msgspec
from msgspec import Struct

LENGTH_BYTES = 4
OWN_PORT = "own"
"""The name that stands for a MIDI port of livecheck's own, for other programs to connect to."""


class Wanted(Struct, frozen=True):
    """What the driver process is to do."""

    what: Literal["list", "audio", "midi", "any", "speak"]
    """"any" is the default audio input, or a MIDI input where there is none; "speak" is an audio output alone."""
    named: str | None = None
    """A device or port, by its name or a part of it; None is the default."""
    rate_hz: int | None = None
    """None is the device's own."""
    channel: int = 1
    """The highest channel that is needed; as many are opened."""
    speaks: bool = False
    """Whether there is sound to be played too: by the same system's output, in step with what is heard."""


class Device(Struct, frozen=True, tag=True):
    """An audio input."""

    name: str
    system: str
    channels: int
    rate_hz: int
    rates_hz: tuple[int, ...]
    """Those of the usual rates that it offers, its own among them."""
    latency_ms: float
    is_default: bool

    @property
    def label(self) -> str:
        return f"{self.name} ({self.system})"


class Port(Struct, frozen=True, tag=True):
    """A MIDI input."""

    name: str
    system: str

    @property
    def label(self) -> str:
        return f"{self.name} ({self.system})"


class Listing(Struct, frozen=True, tag=True):
    """What there is to listen to, and one sentence for everything that is missing."""

    devices: tuple[Device, ...]
    ports: tuple[Port, ...]
    missing: tuple[str, ...]


class Opened(Struct, frozen=True, tag=True):
    """The device or port is open; `label` finds just it again."""

    label: str
    rate_hz: int | None
    channels: int | None
    """None for MIDI, as is the rate."""


class Block(Struct, frozen=True, tag=True):
    """Sound in the order in which it came."""

    samples: bytes
    overflows: int
    """How often sound was lost right before it."""


class Sent(Struct, frozen=True, tag=True):
    """A MIDI message and how long after the one before it came, by the driver's clock."""

    delta_s: float
    data: bytes


class Sound(Struct, frozen=True, tag=True):
    """Sound to be played, mono. Frames are counted from the first that was heard."""

    samples: bytes
    at: int
    """The frame at which it begins; what would be too late begins at once."""


class Hush(Struct, frozen=True, tag=True):
    """Nothing of what was to be played is played any more."""


class Begun(Struct, frozen=True, tag=True):
    """Sound that was to be played at once, by an output alone, comes out of it."""

    moment_s: float
    """When, by the machine's monotonic clock."""


class Stopped(Struct, frozen=True, tag=True):
    """Nothing more will come: the device or its server has gone."""


class Refused(Struct, frozen=True, tag=True):
    """It could not be opened; why, in a sentence."""

    why: str


Message = Listing | Opened | Block | Sent | Sound | Hush | Begun | Stopped | Refused
_ENCODER = msgspec.msgpack.Encoder()
_DECODER = msgspec.msgpack.Decoder(Message)


def send(message: Message, stream: IO[bytes]) -> None:
    """Write one message, now."""
    body = _ENCODER.encode(message)
    stream.write(len(body).to_bytes(LENGTH_BYTES, "big") + body)
    stream.flush()


def receive(stream: IO[bytes]) -> Message | None:
    """Read one message; None at the end, or where the other side broke off in the middle of one."""
    head = stream.read(LENGTH_BYTES)
    length = int.from_bytes(head, "big")
    body = stream.read(length) if len(head) == LENGTH_BYTES else b""
    return _DECODER.decode(body) if body and len(body) == length else None
