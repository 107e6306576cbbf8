"""Calls of `livecheck listen` that cannot be used: one sentence, exit status 2, no traceback."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
import soundfile

from tests.live.servers import jack, quiet_variables, stand_in
from tests.live.test_sound_that_comes import LOOPBACK
from tests.live.virtual_port import VirtualPort

ROOT = Path(__file__).parents[2]


def refused(folder: Path, environment: Mapping[str, str], arguments: Sequence[str]) -> str:
    """The sentence with which a call is refused."""
    done = subprocess.run(
        [sys.executable, "-m", "livecheck", "listen", *arguments],
        cwd=folder,
        env=environment,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    return done.stderr.removeprefix("livecheck: ").rstrip("\n")


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ([], "a lesson is missing, or there is more than one; wanted livecheck listen LESSON"),
        (["lesson.toml", "take.wav"], "a lesson is missing, or there is more than one"),
        (["lesson.toml", "--end-after", "0"], "--end-after is 0; wanted seconds, above zero"),
        (["lesson.toml", "--device", "a", "--port", "b"], "argument --port: not allowed with argument --device"),
        (["nowhere.toml"], "nowhere.toml: cannot be read: no such file or directory; wanted a lesson file"),
        (["lesson.toml", "--figure", "9"], 'lesson.toml: has no figure "9"; wanted one of "1", "2"'),
        (["lesson.toml"], "sound: there is no audio input; plug in an interface or a microphone"),
        (["lesson.toml", "--device", "violin"], "sound: there is no audio input"),
        (["lesson.toml", "--port", "violin"], "MIDI by ALSA: this system has no sequencer"),
    ],
)
def test_one_sentence(folder: Path, arguments: list[str], sentence: str) -> None:
    assert refused(folder, quiet_variables(folder), arguments).startswith(sentence)


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--device", "violin"], 'there is no audio input "violin"; wanted one of: "Loopback (Loop)"'),
        (["--channel", "3"], "Loopback (Loop): has 2 channels; wanted channel 3"),
        (
            ["--rate", "11025"],
            "Loopback (Loop): cannot be opened at 11025 Hz (Invalid sample rate); it offers 48000 Hz",
        ),
    ],
)
def test_what_a_device_does_not_offer(folder: Path, arguments: list[str], sentence: str) -> None:
    soundfile.write(folder / "in.wav", [[0.0, 0.0]] * 4_800, 48_000)
    environment = {**stand_in(folder, "pyaudio", LOOPBACK), "LOOPBACK": str(folder / "in.wav")}
    assert refused(folder, environment, ["lesson.toml", *arguments]).startswith(sentence)


def test_a_port_that_is_not_there_and_no_port_at_all(folder: Path) -> None:
    with jack(folder) as server:
        assert refused(folder, server.variables, ["lesson.toml", "--port", "violin"]) == (
            "MIDI: no instrument is connected; plug one in, or start the program that plays"
        )
        with VirtualPort(server.variables):
            assert refused(folder, server.variables, ["lesson.toml", "--port", "violin"]) == (
                'there is no MIDI input "violin"; wanted one of: "player:strings (JACK)"'
            )


def test_a_driver_that_crashes_is_one_sentence(folder: Path) -> None:
    environment = stand_in(folder, "pyaudio", "import os\nos.abort()")
    assert refused(folder, environment, ["lesson.toml"]) == (
        "the driver of the input broke down; wanted one that answers: try another, or start it anew"
    )


def test_the_readme_tells_every_option(folder: Path) -> None:
    call = [sys.executable, "-m", "livecheck", "listen", "--help"]
    told = subprocess.run(call, env=quiet_variables(folder), capture_output=True, text=True, check=True).stdout
    offered = set(re.findall(r"^  (--[a-z-]+)", told, re.MULTILINE))
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    section = re.split(r"\n##+ ", readme.split("## Playing live", 1)[1])[0]
    own = set(re.findall(r"^\| `(--[a-z-]+)", section, re.MULTILINE))
    shared = set(re.findall(r"`(--[a-z-]+)`", re.findall(r"The options (.*?) are those of", section, re.DOTALL)[0]))
    assert own | shared == offered
