"""A MIDI instrument that is a program: a JACK port called player:strings, in a process of its own.

Run as a program it sends what it reads, a line for each message: when, in seconds, and its bytes in hexadecimal. It
answers when it sent them, by the machine's monotonic clock.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterable, Mapping
from types import TracebackType

import mido

NAME = "player:strings"


class VirtualPort:
    """`with VirtualPort(variables) as port: port.play(timed_messages)`."""

    def __init__(self, environment: Mapping[str, str]) -> None:
        self._process = subprocess.Popen(
            [sys.executable, __file__],
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert self._process.stdout is not None
        assert self._process.stdout.readline() == "open\n"

    def __enter__(self) -> VirtualPort:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.communicate()  # which ends its input, and so the program

    def pull_out(self) -> None:
        """End in the middle of whatever it plays."""
        self._process.kill()

    def play(self, messages: Iterable[tuple[float, mido.Message]]) -> list[float]:
        """Send messages at their times in seconds; returns when all are sent, with the moment of each."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        lines = [f"{time_s} {message.hex('')}\n" for time_s, message in messages if not message.is_meta]
        self._process.stdin.write("".join(lines) + "sent\n")
        self._process.stdin.flush()
        answer = self._process.stdout.readline().split()
        assert answer[:1] == ["sent"], "it was pulled out"
        return list(map(float, answer[1:]))


def _main() -> None:
    import rtmidi

    port = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="player")
    port.open_virtual_port("strings")
    print("open", flush=True)
    began_s = None
    moments_s: list[float] = []
    for line in sys.stdin:
        if line == "sent\n":
            print("sent", *moments_s, flush=True)
            began_s, moments_s = None, []
            continue
        time_s, data = line.split()
        began_s = time.monotonic() - float(time_s) if began_s is None else began_s
        time.sleep(max(0.0, began_s + float(time_s) - time.monotonic()))
        moments_s.append(time.monotonic())
        port.send_message(bytes.fromhex(data))
    port.delete()


if __name__ == "__main__":
    _main()
