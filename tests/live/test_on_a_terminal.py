"""What a person sees on a terminal of 80 columns while playing and after, drivers and all."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

from rich.console import Console

from livecheck.reports.large import Large
from tests.cli.call import livecheck_call
from tests.live.listening import midi_take
from tests.live.servers import PATIENCE_S, jack, until
from tests.live.virtual_port import NAME, VirtualPort


class Terminal:
    """A pseudo-terminal whose text is read as it comes."""

    def __init__(self) -> None:
        self._ours, self.theirs = os.openpty()
        self.text = ""
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def close(self) -> None:
        os.close(self.theirs)
        self._reader.join()
        os.close(self._ours)

    def lines(self) -> list[str]:
        return self.text.replace("\r\n", "\n").splitlines()

    def _read(self) -> None:
        while True:
            try:
                piece = os.read(self._ours, 1000)
            except OSError:  # how Linux tells that nobody holds the other end
                return
            self.text += piece.decode()


def large(text: str) -> list[str]:
    drawn = io.StringIO()
    Console(file=drawn, width=80).print(Large(text))
    return drawn.getvalue().splitlines()[:-1]


def test_one_line_before_what_ended_at_once_and_the_report_after(folder: Path) -> None:
    messages = midi_take(folder, late_s=0.25)
    terminal = Terminal()
    with jack(folder) as server, VirtualPort(server.variables) as port:
        listening = subprocess.Popen(
            [sys.executable, "-m", "livecheck", "listen", "lesson.toml", "--port", "strings", "--figure", "2"],
            cwd=folder,
            env={**server.variables, "TERM": "dumb"},
            stdin=subprocess.DEVNULL,
            stdout=terminal.theirs,
            stderr=terminal.theirs,
        )
        until(lambda: "\n" in terminal.text)
        assert terminal.lines() == [f"livecheck: listening to {NAME} (JACK); Ctrl-C ends the take"]
        port.play(messages)
        until(lambda: len(terminal.lines()) > 7)
        told = [line.rstrip() for line in terminal.lines()[1:]]
        assert told == [*large("2: 1 mistake"), "", "  step 2, string 1: P down 250 ms late"]
        listening.send_signal(signal.SIGINT)
        assert listening.wait(PATIENCE_S) == 1
    terminal.close()
    lines = [line.rstrip() for line in terminal.lines()]
    assert "  step 2, string 1: P down 250 ms late" in lines
    assert " 1 MISTAKE" in lines
    assert lines[-6:] == [*large("1 mistake"), ""]
    assert all(len(line) <= 80 for line in lines if not line.startswith("The take: "))
    past = livecheck_call("history", "lesson.toml", folder=folder, environment=server.variables)
    assert (past.returncode, past.stderr) == (0, "")
    assert "Rain on the shed: 1 attempt on 1 day" in past.stdout
    assert "  still wrong  step 2, string 1: late (1 of the last 1)" in past.stdout.splitlines()
