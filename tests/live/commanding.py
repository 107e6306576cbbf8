"""A command of livecheck as a process, whose output is read while it runs, as a person at a terminal sees it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType

from tests.live.servers import PATIENCE_S, until


class Commanding:
    """`with Commanding(folder, environment, "measure", …) as command`: its output is a terminal, 80 columns wide."""

    def __init__(self, folder: Path, environment: Mapping[str, str], *arguments: str) -> None:
        self._ours, theirs = os.openpty()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "livecheck", *arguments],
            cwd=folder,
            env={**environment, "TERM": "dumb"},
            stdin=subprocess.DEVNULL,
            stdout=theirs,
            stderr=theirs,
        )
        os.close(theirs)
        self.seen = ""
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def __enter__(self) -> Commanding:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.kill()
        self._process.wait()
        self._reader.join()
        os.close(self._ours)

    def until_seen(self, words: str, times: int = 1) -> None:
        """Wait for words; it fails the test if they do not come."""
        until(lambda: self.seen.count(words) >= times or self._process.poll() is not None)
        assert self.seen.count(words) >= times, self.seen

    def interrupt(self) -> None:
        """Press Ctrl-C."""
        self._process.send_signal(signal.SIGINT)

    def ended(self) -> int:
        """Wait until it ends; its exit status."""
        status = self._process.wait(PATIENCE_S)
        self._reader.join()
        return status

    def _read(self) -> None:
        while True:
            try:
                piece = os.read(self._ours, 4096)
            except OSError:  # how Linux tells that nobody holds the other end of a terminal
                return
            self.seen += piece.decode(errors="replace").replace("\r\n", "\n")
