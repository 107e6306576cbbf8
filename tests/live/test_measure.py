"""`livecheck measure` as a process on a real sound server: an instrument is played to it, string by string."""

from __future__ import annotations

from pathlib import Path

import pytest

from livecheck.sources.library import load_copedent
from tests.cli.test_measure import STRUCK, write_strings
from tests.live.commanding import Commanding
from tests.live.listening import play
from tests.live.servers import pulse, quiet_variables


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


def test_no_input_is_one_sentence(folder: Path) -> None:
    with Commanding(folder, quiet_variables(folder), "measure", "--copedent", "three.toml") as command:
        assert command.ended() == 2
    assert "sound: there is no audio input" in command.seen
    assert "Traceback" not in command.seen
