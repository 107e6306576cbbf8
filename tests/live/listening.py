"""`livecheck listen` as a process, and takes to be played to it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

import mido
import numpy as np
import soundfile

from livecheck.sources.midi_file import read_midi
from tests.cli.call import livecheck_call, write_audio, write_midi
from tests.live.servers import PATIENCE_S, SINK, jack, pulse, until
from tests.live.virtual_port import VirtualPort

CUT_S = (6.0, 9.6)
"""Where figure 2 lies in the take of sound."""


class Listening:
    """A process whose standard error is read as it is told."""

    def __init__(
        self, arguments: Sequence[str], folder: Path, environment: Mapping[str, str], wrapper: Sequence[str] = ()
    ) -> None:
        self._process = subprocess.Popen(
            [*wrapper, sys.executable, "-m", "livecheck", "listen", "lesson.toml", *arguments],
            cwd=folder,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.told: list[str] = []
        self._reader = threading.Thread(target=self._read)
        self._reader.start()
        self.until_told("listening to ")

    def __enter__(self) -> Listening:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.kill()

    def until_told(self, words: str) -> None:
        """Wait for a line with these words; it fails the test if none comes."""
        until(lambda: any(words in line for line in self.told) or self._process.poll() is not None)
        assert any(words in line for line in self.told), self.told

    def end(self) -> tuple[int, str]:
        """Press Ctrl-C; exit status and standard output."""
        self._process.send_signal(signal.SIGINT)
        return self.ended()

    def ended(self) -> tuple[int, str]:
        """Wait until it ends by itself; exit status and standard output."""
        assert self._process.stdout is not None
        output = self._process.stdout.read()
        status = self._process.wait(PATIENCE_S)
        self._reader.join()
        return status, output

    def kill(self) -> None:
        """End it as the system does when memory runs out."""
        self._process.kill()
        self._process.communicate()
        self._reader.join()

    def _read(self) -> None:
        assert self._process.stderr is not None
        with os.fdopen(os.dup(self._process.stderr.fileno()), encoding="utf-8") as lines:
            self.told.extend(iter(lines.readline, ""))


def write_take(folder: Path, left: float = 1.0, right: float = 1.0) -> str:
    """Figure 2 as a stereo file with so much of it on each side; the file's name."""
    write_audio(folder, "whole.wav")
    samples, rate_hz = soundfile.read(folder / "whole.wav", dtype="float32")
    first, last = (round(at_s * rate_hz) for at_s in CUT_S)
    cut = samples[first:last, np.newaxis] * np.array([[left, right]], dtype=np.float32)
    soundfile.write(folder / "two.wav", cut, rate_hz)
    return "two.wav"


def add_backing(folder: Path) -> None:
    """Let the lesson have a backing, in which figure 2 begins after 5 s."""
    times_s = np.arange(12 * 44_100) / 44_100
    soundfile.write(folder / "band.flac", 0.1 + 0.3 * np.sin(2.0 * np.pi * 55.0 * times_s), 44_100)
    path = folder / "lesson.toml"
    text = path.read_text(encoding="utf-8").replace("tempo = 90", 'tempo = 90\nbacking = "band.flac"')
    for name, at_s in (("1", 0.5), ("2", 5.0)):
        text = text.replace(f'name = "{name}"', f'name = "{name}"\nbacking_at = {at_s}')
    path.write_text(text, encoding="utf-8")


def play(name: str, folder: Path, environment: Mapping[str, str]) -> None:
    """Play a file into the sound server."""
    subprocess.run(["paplay", f"--device={SINK}", name], cwd=folder, env=environment, check=True, timeout=60)


def play_into_jack(name: str, folder: Path, environment: Mapping[str, str]) -> None:
    """Play a file into what listens to JACK."""
    call = [sys.executable, "-m", "tests.live.jack_player", str(folder / name)]
    root = Path(__file__).parents[2]
    subprocess.run(call, cwd=root, env=environment, check=True, timeout=60, stderr=subprocess.DEVNULL)


@contextmanager
def played_to(source: str, folder: Path, *arguments: str) -> Iterator[Listening]:
    """A process that listens to sound or to MIDI, and to which figure 2 has been played."""
    if source == "audio":
        take = write_take(folder)
        with pulse(folder) as server, Listening(arguments, folder, server.variables) as heard:
            play(take, folder, server.variables)
            yield heard
    else:
        messages = midi_take(folder)
        with (
            jack(folder) as server,
            VirtualPort(server.variables) as port,
            Listening(["--port", "strings", *arguments], folder, server.variables) as heard,
        ):
            port.play(messages)
            yield heard


def midi_take(folder: Path, late_s: float = 0.0) -> list[tuple[float, mido.Message]]:
    """Figure 2 as timed messages."""
    write_midi(folder, "two.mid", ("2",), late_s)
    return list(read_midi(str(folder / "two.mid")).messages)


def graded(take: str, folder: Path, *arguments: str) -> tuple[int, str]:
    """What `livecheck grade --json` says of a take: exit status and standard output."""
    done = livecheck_call("grade", "lesson.toml", take, "--json", *arguments, folder=folder)
    return done.returncode, done.stdout
