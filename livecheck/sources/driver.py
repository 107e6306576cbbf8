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
from livecheck.sources.driver_message import (
    Device,
    Hush,
    Listing,
    Message,
    Port,
    Refused,
    Sound,
    Stopped,
    Wanted,
    receive,
    send,
)
from livecheck.sources.midi_port import Midi
from livecheck.sources.mixer import Mixer

CLOSING_S = 1
"""A driver that takes longer to close never will."""


def main() -> NoReturn:
    """Do what the first argument says; messages go where standard output went."""
    out = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    ended = threading.Event()
    mixer = Mixer()
    threading.Thread(target=_listen_to_the_other_side, args=[mixer, ended], daemon=True).start()
    with suppress(OSError):  # the other side has gone
        _do(msgspec.json.decode(sys.argv[1], type=Wanted), lambda message: send(message, out), mixer, ended)
    # Nothing is tidied up: after its server has gone a driver may never come back from that.
    os._exit(0)


def _do(wanted: Wanted, put: Callable[[Message], None], mixer: Mixer, ended: threading.Event) -> None:
    ways: dict[str, list[Callable[[], None]]] = {
        "list": [lambda: put(_listing())],
        "audio": [lambda: Audio().hear(wanted, put, mixer, ended)],
        "midi": [lambda: Midi().listen(wanted, put, ended)],
        "speak": [lambda: Audio().speak(wanted, put, mixer, ended)],
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


def _listen_to_the_other_side(mixer: Mixer, ended: threading.Event) -> None:
    """Take in what is to be played until the pipe closes; then end."""
    with os.fdopen(0, "rb") as near:
        while (message := receive(near)) is not None:
            if isinstance(message, Sound):
                mixer.add(message)
            elif isinstance(message, Hush):
                mixer.hush()
    ended.set()
    if hasattr(signal, "alarm"):
        # The system ends this process then, even if a driver that hangs lets the interpreter do nothing any more.
        signal.alarm(CLOSING_S)
    else:
        time.sleep(CLOSING_S)
        os._exit(0)


if __name__ == "__main__":
    main()
