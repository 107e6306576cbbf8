"""The driver process: a program of its own that talks to PortAudio and MIDI drivers, for the one that started it.

Drivers print on the terminal, hang when their server has gone, and crash; here that hurts nobody. And no computing in
the program that listens can make the callbacks wait. It ends when the pipe to it is closed, however that happened.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import NoReturn

import msgspec

from livecheck.errors import Unusable
from livecheck.sources.audio_device import Audio
from livecheck.sources.driver_message import Device, Listing, Message, Port, Refused, Stopped, Wanted, send
from livecheck.sources.midi_port import Midi


def main() -> NoReturn:
    """Do what the first argument says; messages go where standard output went."""
    out = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    threading.Thread(target=_end_with_the_other_side, daemon=True).start()
    with suppress(OSError):  # the other side has gone
        _do(msgspec.json.decode(sys.argv[1], type=Wanted), lambda message: send(message, out))
    # Nothing is tidied up: after its server has gone a driver may never come back from that.
    os._exit(0)


def _do(wanted: Wanted, put: Callable[[Message], None]) -> None:
    try:
        if wanted.what == "list":
            put(_listing())
        elif wanted.what == "audio":
            Audio().hear(wanted, put)
            put(Stopped())
        else:
            Midi().listen(wanted, put)
            put(Stopped())
    except Unusable as error:
        put(Refused(str(error)))


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


def _end_with_the_other_side() -> None:
    while os.read(0, 1):
        pass
    os._exit(0)


if __name__ == "__main__":
    main()
