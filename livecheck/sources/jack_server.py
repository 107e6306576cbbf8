"""Whether the JACK server is still there, by JACK's own C interface. Used in the driver process only.

rtmidi does not tell, and the ports that it lists are those of the shared memory that a server leaves behind.
"""

from __future__ import annotations

import ctypes
from ctypes.util import find_library

CLIENT = b"livecheck-watch"
NO_START_SERVER = 1
"""JackNoStartServer of jack/types.h."""
_Callback = ctypes.CFUNCTYPE(None, ctypes.c_void_p)


class JackServer:
    """A client that does nothing but wait for the server's end; without JACK's library it waits for ever."""

    def __init__(self) -> None:
        self.has_gone = False
        self._called = _Callback(self._ended)  # JACK has no hold on it
        self._client = ctypes.c_void_p()
        name = find_library("jack")
        if name is None:
            return
        self._library = ctypes.CDLL(name)
        self._library.jack_client_open.restype = ctypes.c_void_p
        self._client = ctypes.c_void_p(self._library.jack_client_open(CLIENT, NO_START_SERVER, None))
        if self._client:
            self._library.jack_on_shutdown(self._client, self._called, None)
            self._library.jack_activate(self._client)

    def close(self) -> None:
        """Take leave of the server."""
        if self._client:
            self._library.jack_client_close(self._client)

    def _ended(self, _: int | None) -> None:
        self.has_gone = True
