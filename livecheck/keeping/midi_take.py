"""A take as a Standard MIDI File of type 0, written while it is played.

After each message the length in the track's header (Standard MIDI Files 1.0, RP-001: MTrk and four bytes) is made to
hold just the whole messages that are there, so the file can be read at any time.

A tick is 2 ** -15 s (16384 to a beat of half a second), which floating point holds exactly: sums of ticks are the same
whoever adds them, and in whatever order.
"""

from __future__ import annotations

import os
from pathlib import Path

TICKS_PER_BEAT = 16_384
TEMPO_US = 500_000
TICK_S = 2.0**-15
MOST_DELTA = 0x0FFF_FFFF
"""The largest that a variable-length quantity holds."""
_HEADER = b"MThd" + (6).to_bytes(4, "big") + bytes([0, 0, 0, 1]) + TICKS_PER_BEAT.to_bytes(2, "big") + b"MTrk"
_LENGTH_AT = len(_HEADER)
_FIRST = b"\x00\xff\x51\x03" + TEMPO_US.to_bytes(3, "big")
_NOTHING = b"\xff\x01\x00"
_END = b"\xff\x2f\x00"


def ticks_of(time_s: float) -> int:
    """The tick that is nearest to a time in seconds."""
    return round(time_s / TICK_S)


class MidiTake:
    """Every method raises OSError if the file cannot be written."""

    def __init__(self, path: Path) -> None:
        self._descriptor = os.open(path, os.O_WRONLY | getattr(os, "O_BINARY", 0))
        self._length = 0
        self._tick = 0
        self._put(_HEADER + bytes(4), 0)
        self._append(_FIRST)

    def write(self, tick: int, message: bytes) -> None:
        """Add one message, or one meta event, at a tick from the start that is not before the last one's."""
        delta, self._tick = tick - self._tick, tick
        waits = b""
        while delta > MOST_DELTA:
            waits += _quantity(MOST_DELTA) + _NOTHING
            delta -= MOST_DELTA
        self._append(waits + _quantity(delta) + message)

    def settle(self) -> None:
        """See to it that what was written outlives the machine too."""
        os.fsync(self._descriptor)

    def close(self, tick: int) -> None:
        """End the take at a tick."""
        try:
            self.write(tick, _END)
            self.settle()
        finally:
            os.close(self._descriptor)

    def _append(self, data: bytes) -> None:
        self._put(data, _LENGTH_AT + 4 + self._length)
        self._length += len(data)
        self._put(self._length.to_bytes(4, "big"), _LENGTH_AT)

    def _put(self, data: bytes, at: int) -> None:
        os.lseek(self._descriptor, at, os.SEEK_SET)
        while data:
            data = data[os.write(self._descriptor, data) :]


def _quantity(value: int) -> bytes:
    """A variable-length quantity: seven bits a byte, the high bit on all but the last."""
    groups = [value & 0x7F]
    while value := value >> 7:
        groups.append(0x80 | value & 0x7F)
    return bytes(reversed(groups))
