"""MIDI inputs, by python-rtmidi: which there are, and listening to one. Used in the driver process only.

A message's time is how long after the one before it came, by the driver's clock, as rtmidi gives it to the callback.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from queue import Empty, SimpleQueue
from threading import Event
from typing import Any

from livecheck.errors import Unusable
from livecheck.sources.choice import chosen
from livecheck.sources.driver_message import OWN_PORT, Message, Opened, Port, Sent, Wanted
from livecheck.sources.jack_server import JackServer

CLIENT = "livecheck"
LOOK_S = 0.1

NO_RTMIDI = (
    "MIDI: python-rtmidi is not installed; get it with: pip install 'livecheck[live]' "
    "(where no wheel fits it is built on the spot; Debian: apt-get install g++ python3-dev libasound2-dev libjack-dev)"
)
NO_PORT = "MIDI: no instrument is connected; plug one in, or start the program that plays"
_NONE_OF = {
    "ALSA": "MIDI by ALSA: this system has no sequencer; load it (as root: modprobe snd-seq), or use JACK",
    "JACK": "MIDI by JACK: no server is running; start one if you want to use it (Debian: apt-get install jackd2)",
}
_NUMBERS = re.compile(r" \d+:\d+$")
"""ALSA's client and port numbers: other ones once a device has been plugged in again."""

Came = Callable[[tuple[list[int], float], object], None]
"""rtmidi's callback: a message's bytes and the seconds since the one before, and what was given along."""


class Midi:
    """All MIDI systems that answer. Unusable if python-rtmidi is not there."""

    def __init__(self) -> None:
        try:
            import rtmidi
        except ImportError as error:
            said = "" if isinstance(error, ModuleNotFoundError) else f" ({error})"
            raise Unusable(f"{NO_RTMIDI}{said}") from None
        self._rtmidi = rtmidi
        self._missing: list[str] = []
        self._inputs = dict(self._answering())

    def ports(self) -> list[Port]:
        """All ports of all systems."""
        return [Port(name, system) for system, source in self._inputs.items() for name in _ports(source)]

    def missing(self) -> list[str]:
        """A sentence for everything that is not there."""
        return self._missing + ([] if self.ports() or not self._inputs else [NO_PORT])

    def listen(self, wanted: Wanted, put: Callable[[Message], None], ended: Event) -> None:
        """Give out `Opened`, then messages until it is `ended` or the port has gone. Unusable if it cannot open."""
        queue: SimpleQueue[Sent] = SimpleQueue()

        def came(event: tuple[list[int], float], _: object) -> None:
            queue.put(Sent(event[1], bytes(event[0])))

        if not self._inputs:
            raise Unusable("; ".join(self._missing))
        own = wanted.named is not None and wanted.named.split(" (")[0] == OWN_PORT
        port = self._own(came) if own else self._opened(wanted.named, came)
        server = JackServer() if port.system == "JACK" else None
        put(Opened(port.label, None, None))
        while not ended.is_set():
            try:
                put(queue.get(timeout=LOOK_S))
            except Empty:
                if (server is not None and server.has_gone) or not (own or port in self.ports()):
                    return
        for source in self._inputs.values():
            source.delete()
        if server is not None:
            server.close()

    def _own(self, came: Came) -> Port:
        """A port for others to connect to."""
        system, source = next(iter(self._inputs.items()))
        source.set_callback(came)
        try:
            source.open_virtual_port(CLIENT)
        except (NotImplementedError, SystemError, self._rtmidi.RtMidiError):
            raise Unusable(f"{system}: has no ports of a program's own; wanted the name of a port") from None
        return Port(OWN_PORT, system)

    def _opened(self, named: str | None, came: Came) -> Port:
        ports = self.ports()
        if not ports:
            raise Unusable(NO_PORT)
        port = ports[0] if named is None else chosen(named, ports, "MIDI input")
        source = self._inputs[port.system]
        source.set_callback(came)
        try:
            source.open_port(_ports(source).index(port.name), "in")
        except (SystemError, ValueError, self._rtmidi.RtMidiError) as error:
            raise Unusable(f"{port.label}: cannot be opened ({error}); is another program holding it?") from None
        return port

    def _answering(self) -> Iterator[tuple[str, Any]]:
        """Without a sequencer or a server rtmidi raises SystemError already where it only makes a client."""
        names = {
            self._rtmidi.API_LINUX_ALSA: "ALSA",
            self._rtmidi.API_UNIX_JACK: "JACK",
            self._rtmidi.API_MACOSX_CORE: "Core MIDI",
            self._rtmidi.API_WINDOWS_MM: "Windows MM",
        }
        for api in self._rtmidi.get_compiled_api():
            system = names.get(api)
            if system is None:
                continue
            try:
                yield system, self._rtmidi.MidiIn(api, name=CLIENT)
            except (SystemError, self._rtmidi.RtMidiError) as error:
                self._missing.append(_NONE_OF.get(system, f"MIDI by {system}: does not start ({error})"))


def _ports(source: Any) -> list[str]:
    """Names in rtmidi's order, without numbers unless two would be called the same."""
    names = source.get_ports()
    plain = [_NUMBERS.sub("", name) for name in names]
    return [name if plain.count(short) > 1 else short for name, short in zip(names, plain, strict=True)]
