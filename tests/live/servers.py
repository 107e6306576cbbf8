"""Sound servers without hardware: PulseAudio with a null sink, JACK with its dummy driver.

Each runs in a folder of its own and under a name of its own, so that it meets no other on the machine; `variables` is
what a program has to be told to use it, and nothing else.
"""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from types import TracebackType

from tests.cli.call import variables

PATIENCE_S = 40.0
"""A machine that is busy with other tests may take so long for what usually takes one."""
SINK = "pickup"
RATE_HZ = 48_000
ALSA = "</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n"


class Server:
    """A program that is started, is there once `_answers`, and can be ended and started again."""

    def __init__(self, call: list[str], environment: Mapping[str, str], answers: list[str]) -> None:
        self._call = call
        self._answers = answers
        self.variables = dict(environment)
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Server:
        try:
            self.start()
        except BaseException:
            self.end()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.end()

    def start(self) -> None:
        self._process = subprocess.Popen(
            self._call, env=self.variables, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        until(
            lambda: subprocess.run(self._answers, env=self.variables, capture_output=True, check=False).returncode == 0
        )

    def end(self) -> None:
        if self._process is not None:
            # Not killed: JACK would leave its place in the system's table of eight servers taken.
            self._process.terminate()
            self._process.wait(PATIENCE_S)
            self._process = None


def quiet_variables(folder: Path) -> dict[str, str]:
    """An environment in which there is no sound at all, whatever this machine has."""
    runtime = folder / "run"
    runtime.mkdir(mode=0o700, exist_ok=True)
    (folder / "asound.conf").write_text(ALSA, encoding="ascii")
    return variables(
        {
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(runtime),
            "XDG_DATA_HOME": str(folder / "data"),
            "ALSA_CONFIG_PATH": str(folder / "asound.conf"),
            "PULSE_SERVER": f"unix:{runtime}/pulse/native",
            "JACK_DEFAULT_SERVER": f"livecheck-{os.getpid()}",
            "JACK_NO_START_SERVER": "1",
        }
    )


def pulse(folder: Path) -> Server:
    """PulseAudio; what is played on `SINK` is what the default input hears. Without rewinds it begins at once."""
    environment = quiet_variables(folder)
    sink = f"module-null-sink sink_name={SINK} rate={RATE_HZ} channels=2 norewinds=1"
    call = ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", f"--load={sink}"]
    call += ["--load=module-native-protocol-unix"]
    return Server(call, environment, ["pactl", "info"])


def jack(folder: Path) -> Server:
    """JACK with its dummy driver: two silent inputs, and MIDI between programs."""
    environment = quiet_variables(folder)
    name = environment["JACK_DEFAULT_SERVER"]
    call = ["jackd", "-n", name, "--no-realtime", "-d", "dummy", "-r", str(RATE_HZ), "-p", "256"]
    return Server(call, environment, ["jack_lsp", "-s", name])


def until(holds: Callable[[], bool], patience_s: float = PATIENCE_S) -> None:
    """Wait for something; it fails the test if it does not come."""
    end_s = time.monotonic() + patience_s
    while not holds():
        assert time.monotonic() < end_s, "it did not come"
        time.sleep(0.05)


def stand_in(folder: Path, module: str, source: str) -> dict[str, str]:
    """The environment in which a module is another one; for drivers that are broken or not there."""
    places = folder / "stand-ins"
    places.mkdir(exist_ok=True)
    (places / f"{module}.py").write_text(source, encoding="ascii")
    environment = quiet_variables(folder)
    return {**environment, "PYTHONPATH": os.pathsep.join([str(places), environment["PYTHONPATH"]])}
