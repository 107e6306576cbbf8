"""`livecheck calibrate` as a process: a cable of known length, and real servers that hear themselves."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Mapping
from pathlib import Path

import pytest

from livecheck.keeping.latency import kept_latency_ms
from tests.live.commanding import Commanding
from tests.live.servers import RATE_HZ, jack, pulse, stand_in, until

DUPLEX = (Path(__file__).parent / "duplex.py").read_text(encoding="utf-8")
FRAMES = 1_777


def measured_ms(command: Commanding) -> float:
    (told,) = re.findall(r"Latency: (\d+\.\d) ms out and back", command.seen)
    return float(told)


def cable(folder: Path, **variables: str) -> Mapping[str, str]:
    return {**stand_in(folder, "pyaudio", DUPLEX), "ECHO_FRAMES": str(FRAMES), **variables}


@pytest.mark.parametrize("by", [(), ("--by", "loop")])
def test_a_cable_of_known_length(tmp_path: Path, by: tuple[str, ...]) -> None:
    with Commanding(tmp_path, cable(tmp_path), "calibrate", *by) as command:
        assert command.ended() == 0
    assert measured_ms(command) == pytest.approx(1000.0 * FRAMES / RATE_HZ, abs=0.1)
    assert "by clicks that came back" in command.seen
    assert "H.870" in command.seen
    kept_ms = kept_latency_ms(tmp_path / "data" / "livecheck", "Cable (Loop)", RATE_HZ)
    assert kept_ms == pytest.approx(1000.0 * FRAMES / RATE_HZ, abs=0.1)


def test_playing_along(tmp_path: Path) -> None:
    """Whoever plays along to the frame is the cable itself."""
    with Commanding(tmp_path, cable(tmp_path), "calibrate", "--by", "along") as command:
        assert command.ended() == 0
    assert measured_ms(command) == pytest.approx(1000.0 * FRAMES / RATE_HZ, abs=3.0)
    assert "by playing along" in command.seen
    assert "█" in command.seen


def test_nothing_that_comes_back_is_one_sentence(tmp_path: Path) -> None:
    with Commanding(tmp_path, cable(tmp_path, ECHO_GAIN="0", ECHO_SPEED="20"), "calibrate") as command:
        assert command.ended() == 2
    assert "no click came back, and no steady playing along was heard" in command.seen
    assert not (tmp_path / "data").exists()


def test_no_output_and_a_level_that_makes_no_sense(tmp_path: Path) -> None:
    with Commanding(tmp_path, cable(tmp_path, ECHO_OUTPUTS="0"), "calibrate") as command:
        assert command.ended() == 0, "the system's default output serves"
    with Commanding(tmp_path, cable(tmp_path), "calibrate", "--level", "6") as command:
        assert command.ended() == 2
    assert "--level is 6; wanted decibels below full scale" in command.seen


def test_a_sound_server_that_hears_itself(tmp_path: Path) -> None:
    with pulse(tmp_path) as server:
        found_ms = []
        for _ in range(2):
            with Commanding(tmp_path, server.variables, "calibrate", "--by", "loop") as command:
                assert command.ended() == 0, command.seen
            found_ms.append(measured_ms(command))
    assert all(1.0 < ms < 500.0 for ms in found_ms)


def test_jack_whose_output_is_connected_to_its_input(tmp_path: Path) -> None:
    """What a program gives itself comes back one period of the server later at least, 256 frames, 5.3 ms."""

    def ports() -> list[str]:
        done = subprocess.run(["jack_lsp"], env=server.variables, capture_output=True, text=True, check=True)
        return [name for name in done.stdout.split("\n") if "PortAudio" in name]

    with (
        jack(tmp_path) as server,
        Commanding(tmp_path, server.variables, "calibrate", "--device", "system", "--by", "loop") as command,
    ):
        command.until_seen("listening to system (JACK)")
        until(lambda: len(ports()) == 2)
        heard, played = sorted(ports(), key=lambda name: "out" in name)
        subprocess.run(["jack_connect", played, heard], env=server.variables, check=True)
        assert command.ended() == 0, command.seen
    assert 5.2 <= measured_ms(command) < 60.0


def test_a_folder_that_cannot_be_written_is_told_before_anything_is_played(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="ascii")
    with Commanding(tmp_path, cable(tmp_path), "calibrate", "--keep", "file/below") as command:
        assert command.ended() == 2
    assert "file/below: it cannot be kept there (Not a directory); wanted a folder to write to" in command.seen
    assert "listening" not in command.seen
