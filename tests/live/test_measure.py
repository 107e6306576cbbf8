"""`livecheck measure` as a process on a real sound server: an instrument is played to it, string by string."""

from __future__ import annotations

from pathlib import Path

import mido
import pytest

from livecheck.sources.input_file import read_input
from livecheck.sources.library import load_copedent
from tests.cli.test_measure import STRUCK, write_strings
from tests.live.commanding import Commanding
from tests.live.listening import play
from tests.live.servers import jack, pulse, quiet_variables
from tests.live.virtual_port import VirtualPort


def test_an_instrument_that_is_played(folder: Path) -> None:
    write_strings(folder)
    with (
        pulse(folder) as server,
        Commanding(folder, server.variables, "measure", "--copedent", "three.toml") as command,
    ):
        command.until_seen("listening to ")
        play("strings.wav", folder, server.variables)
        assert command.ended() == 1
    assert "string 2          10 cents flat  to be G#4" in command.seen
    assert "█" in command.seen, "what to strike stands there in large letters"
    own = load_copedent(str(folder / "data" / "livecheck" / "instruments" / "three.toml"))
    assert own.strings == pytest.approx(STRUCK[:3], abs=0.01)


def test_stopped_too_early_nothing_is_written(folder: Path) -> None:
    with (
        pulse(folder) as server,
        Commanding(folder, server.variables, "measure", "--copedent", "three.toml") as command,
    ):
        command.until_seen("listening to ")
        command.interrupt()
        assert command.ended() == 2
    assert "no string was heard that is asked for; wanted each open string; nothing is written" in command.seen
    assert not (folder / "data").exists()


def test_how_far_bends_reach_is_measured_by_one_slide(folder: Path) -> None:
    begins = mido.Message("note_on", channel=2, note=69, velocity=80)
    slide = [(0.1 + n * 0.01, mido.Message("pitchwheel", channel=2, pitch=round(n / 30 * 8192 / 6))) for n in range(31)]
    arguments = ("measure", "--port", "strings")
    with (
        jack(folder) as server,
        VirtualPort(server.variables) as port,
        Commanding(folder, server.variables, *arguments) as command,
    ):
        command.until_seen("slide to fret 7")
        port.play([(0.0, begins), *slide])
        assert command.ended() == 0
    assert "Bends reach 12 semitones." in command.seen
    path = folder / "data" / "livecheck" / "inputs" / "measured.toml"
    assert read_input(path.read_text(encoding="utf-8"), "measured.toml").bend_semitones == 12.0
    assert f"--input {folder}" in command.seen.replace("\n", "")
    with Commanding(folder, server.variables, *arguments) as command:
        assert command.ended() == 2
    assert "is there already; wanted --overwrite" in command.seen


def test_no_input_is_one_sentence(folder: Path) -> None:
    with Commanding(folder, quiet_variables(folder), "measure", "--copedent", "three.toml") as command:
        assert command.ended() == 2
    assert "sound: there is no audio input" in command.seen
    assert "Traceback" not in command.seen
