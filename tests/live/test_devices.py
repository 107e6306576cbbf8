"""`livecheck devices` with servers that run, with none, and with drivers that are broken."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

from tests.live.servers import jack, pulse, quiet_variables, stand_in
from tests.live.virtual_port import VirtualPort


def devices(environment: Mapping[str, str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "livecheck", "devices"],
        env=environment,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )


def told(text: str) -> str:
    """Without line breaks where lines were filled."""
    return re.sub(r"\n  ", " ", text)


def test_nothing_at_all_is_told_with_what_to_do_about_it(tmp_path: Path) -> None:
    done = devices(quiet_variables(tmp_path))
    assert done.returncode == 2
    assert done.stderr == "livecheck: there is nothing to listen to; wanted an audio or a MIDI input\n"
    assert "sound: there is no audio input; plug in" in told(done.stdout)
    assert "MIDI by ALSA: this system has no sequencer; load it (as root: modprobe snd-seq)" in told(done.stdout)
    assert "MIDI by JACK: no server is running" in told(done.stdout)
    assert all(len(line) <= 80 for line in done.stdout.splitlines())


def test_a_sound_server_offers_its_rates(tmp_path: Path) -> None:
    with pulse(tmp_path) as server:
        done = devices(server.variables)
    assert (done.returncode, done.stderr) == (0, "")
    line = r"^\* default \(ALSA\) +(\d+ +\d+ Hz +\d+ ms)\n    also (.*) Hz$"
    ((default, rates),) = re.findall(line, done.stdout, re.MULTILINE)
    assert re.fullmatch(r"\d+ +44100 Hz +\d+ ms", default)
    assert rates == "48000, 88200, 96000, 192000"
    assert done.stdout.endswith("\n* is heard unless --device names another; a part of a name will do.\n")
    assert "sound by JACK: no server is running" in told(done.stdout)


def test_jack_offers_sound_and_midi(tmp_path: Path) -> None:
    with jack(tmp_path) as server, VirtualPort(server.variables):
        done = devices(server.variables)
    assert (done.returncode, done.stderr) == (0, "")
    assert re.search(r"^  system \(JACK\) +2  48000 Hz +5 ms$", done.stdout, re.MULTILINE)
    assert "\n  MIDI input\n  player:strings (JACK)\n" in done.stdout
    assert "by JACK" not in done.stdout


@pytest.mark.parametrize(
    ("module", "source", "sentence"),
    [
        ("pyaudio", "raise ModuleNotFoundError", "sound: PyAudio is not installed; get it with: pip install"),
        (
            "pyaudio",
            "raise ImportError('libportaudio.so.2: cannot open shared object file')",
            "sound: PortAudio cannot be loaded (libportaudio.so.2: cannot open shared object file); Debian: apt-get",
        ),
        (
            "pyaudio",
            "def PyAudio():\n    raise OSError(-9999, 'Unanticipated host error')",
            "sound: PortAudio does not start (Unanticipated host error)",
        ),
        ("rtmidi", "raise ModuleNotFoundError", "MIDI: python-rtmidi is not installed; get it with: pip install"),
    ],
)
def test_what_is_not_installed_is_told(tmp_path: Path, module: str, source: str, sentence: str) -> None:
    done = devices(stand_in(tmp_path, module, source))
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert sentence in told(done.stdout)


def test_a_driver_that_crashes_is_one_sentence(tmp_path: Path) -> None:
    done = devices(stand_in(tmp_path, "pyaudio", "import os\nos.abort()"))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        "livecheck: the sound system does not tell its devices (its driver broke down); "
        "wanted one that answers; restart it\n"
    )


def test_what_drivers_print_does_not_reach_the_terminal(tmp_path: Path) -> None:
    noisy = "import os\nos.write(1, b'noise')\nos.write(2, b'noise')\nraise ModuleNotFoundError"
    done = devices(stand_in(tmp_path, "pyaudio", noisy))
    assert "noise" not in done.stdout + done.stderr
    assert "PyAudio is not installed" in done.stdout
