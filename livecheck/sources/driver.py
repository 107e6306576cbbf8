"""The driver process: a program of its own that talks to PortAudio and MIDI drivers, for the one that started it.

Drivers print on the terminal, hang when their server has gone, and crash; here that hurts nobody. And no computing in
the program that listens can make the callbacks wait. It ends when the pipe to it is closed, however that happened.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from typing import NoReturn

import msgspec

from livecheck.errors import Unusable
from livecheck.sources.audio_device import Audio
from livecheck.sources.driver_message import Device, Listing, Message, Port, Refused, Stopped, Wanted, send
from livecheck.sources.midi_port import Midi

CLOSING_S = 1
"""A driver that takes longer to close never will."""


def main() -> NoReturn:
    """Do what the first argument says; messages go where standard output went."""
    out = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    ended = threading.Event()
    threading.Thread(target=_end_with_the_other_side, args=[ended], daemon=True).start()
    with suppress(OSError):  # the other side has gone
        _do(msgspec.json.decode(sys.argv[1], type=Wanted), lambda message: send(message, out), ended)
    # Nothing is tidied up: after its server has gone a driver may never come back from that.
    os._exit(0)


def _do(wanted: Wanted, put: Callable[[Message], None], ended: threading.Event) -> None:
    ways: dict[str, list[Callable[[], None]]] = {
        "list": [lambda: put(_listing())],
        "audio": [lambda: Audio().hear(wanted, put, ended)],
        "midi": [lambda: Midi().listen(wanted, put, ended)],
    }
    ways["any"] = ways["audio"] + ways["midi"]
    refused: list[str] = []
    for way in ways[wanted.what]:
        try:
            way()
        except Unusable as error:
            refused.append(str(error))
        else:
            put(Stopped())
            return
    put(Refused("; ".join(refused)))


def _listing() -> Listing:
    devices: list[Device] = []
    ports: list[Port] = []
    missing: list[str] = []
    try:
        audio = Audio()
        devices, missing = audio.devices(), audio.missing()
    except Unusable as error:
        missing.append(str(error))
    try:
        midi = Midi()
        ports = midi.ports()
        missing += midi.missing()
    except Unusable as error:
        missing.append(str(error))
    return Listing(tuple(devices), tuple(ports), tuple(missing))


def _end_with_the_other_side(ended: threading.Event) -> None:
    while os.read(0, 1):
        pass
    ended.set()
    if hasattr(signal, "alarm"):
        # The system ends this process then, even if a driver that hangs lets the interpreter do nothing any more.
        signal.alarm(CLOSING_S)
    else:
        time.sleep(CLOSING_S)
        os._exit(0)


if __name__ == "__main__":
    main()
