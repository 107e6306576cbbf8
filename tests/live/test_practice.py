"""`livecheck practice` as a process on a real sound server, played to as a player plays, read as a player reads."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Mapping
from pathlib import Path

import mido
import pytest
import soundfile
from rich.console import Console

from livecheck.keeping.latency import keep_latency_ms
from livecheck.reports.large import Large
from tests.cli.call import COPEDENT, PAUSE_S, START_S
from tests.live.commanding import Commanding
from tests.live.listening import CUT_S, add_backing, graded, midi_take, play, write_take
from tests.live.servers import RATE_HZ, jack, pulse, quiet_variables, stand_in
from tests.live.test_calibrate import DUPLEX
from tests.live.virtual_port import VirtualPort

ARGUMENTS = ("practice", "lesson.toml", "--figure", "2", "--by-ear", "tones", "--breath", "0.5")
"""Figure 2 is the whole lesson here."""


def large(text: str) -> str:
    drawn = io.StringIO()
    Console(file=drawn, width=80).print(Large(text))
    return drawn.getvalue().rstrip("\n")


def attempts(folder: Path) -> list[tuple[str, int, str]]:
    """Figure, clean and take of all attempts that are kept."""
    with sqlite3.connect(folder / "data" / "livecheck" / "attempts.sqlite") as database:
        query = "SELECT figure, clean, path FROM attempt JOIN take ON take.id = attempt.take ORDER BY attempt.began"
        rows = database.execute(query).fetchall()
    database.close()
    return rows


def play_in_turn(command: Commanding, names: list[str], folder: Path, environment: Mapping[str, str]) -> None:
    for number, name in enumerate(names, start=1):
        command.until_seen("\nPlay.\n", number)
        play(name, folder, environment)


def write_short(folder: Path) -> str:
    """Figure 2 without its last pick."""
    samples, rate_hz = soundfile.read(folder / write_take(folder), dtype="float32")
    samples[round(1.75 * rate_hz) :] = 0.0
    soundfile.write(folder / "short.wav", samples, rate_hz)
    return "short.wav"


def test_a_figure_is_passed_after_clean_attempts_in_a_row(folder: Path) -> None:
    take, short = write_take(folder), write_short(folder)
    with (
        pulse(folder) as server,
        Commanding(folder, server.variables, *ARGUMENTS, "--clean", "2", "--play-step") as command,
    ):
        play_in_turn(command, [take, short, take, take], folder, server.variables)
        assert command.ended() == 0, command.seen
    assert "H.870" in command.seen
    assert command.seen.count(large("2 at 90")) == 4
    assert large("clean, 1 more") in command.seen
    assert large("1 mistake") in command.seen
    assert "step 3, string 3: not heard" in command.seen
    assert large("passed") in command.seen
    assert command.seen.endswith("The whole lesson is passed.\n")
    kept = attempts(folder)
    assert [(figure, clean) for figure, clean, _ in kept] == [("2", 1), ("2", 0), ("2", 1), ("2", 1)]
    assert graded(kept[1][2], folder, "--figure", "2")[0] == 1
    assert graded(kept[2][2], folder, "--figure", "2")[0] == 0


def test_what_is_clean_at_another_tempo_does_not_count(folder: Path) -> None:
    take = write_take(folder)
    arguments = (*ARGUMENTS, "--clean", "1", "--tempo", "60")
    with pulse(folder) as server, Commanding(folder, server.variables, *arguments) as command:
        play_in_turn(command, [take], folder, server.variables)
        command.until_seen(large("another tempo"))
        command.until_seen(large("2 at 60"), 2)
    assert "  clean at 90, asked 60\n" in command.seen
    assert [clean for _, clean, _ in attempts(folder)] == [1]


def test_a_server_that_goes_is_waited_for_and_what_was_played_is_kept(folder: Path) -> None:
    take = write_take(folder)
    with pulse(folder) as server, Commanding(folder, server.variables, *ARGUMENTS) as command:
        play_in_turn(command, [take], folder, server.variables)
        command.until_seen("\nPlay.\n", 2)
        server.end()
        command.until_seen("has gone; waiting for it")
        server.start()
        command.until_seen("is back; once more")
        command.until_seen("\nPlay.\n", 3)
        command.interrupt()
        assert command.ended() == 1
    assert command.seen.endswith("Ended. What you played is kept.\n")
    assert [(figure, clean) for figure, clean, _ in attempts(folder)] == [("2", 1)]


def test_killed_it_has_lost_no_attempt_that_had_ended(folder: Path) -> None:
    take = write_take(folder)
    own = folder / "data" / "livecheck" / "instruments" / "three.toml"
    own.parent.mkdir(parents=True)
    own.write_text(COPEDENT.replace("strings =", "measured = 2026-11-25\nstrings ="), encoding="utf-8")
    with pulse(folder) as server, Commanding(folder, server.variables, *ARGUMENTS) as command:
        play_in_turn(command, [take], folder, server.variables)
        command.until_seen(large("clean, 2 more"))
    assert "in tune is what the instrument was measured to be on 2026-11-25\n" in command.seen
    assert [(figure, clean) for figure, clean, _ in attempts(folder)] == [("2", 1)]


@pytest.mark.parametrize(
    ("click", "late_s", "told"),
    [
        ("all", 0.0, "passed"),
        ("all", 0.2, "3 mistakes"),
        ("count-in", 0.2, "passed"),
        ("backing", 0.0, "passed"),
        ("backing", 0.2, "3 mistakes"),
    ],
)
def test_against_the_click_with_the_latency_taken_off(folder: Path, click: str, late_s: float, told: str) -> None:
    """A player hears the click 1777 frames late, and plays his first note on the beat after the bar, or late."""
    add_backing(folder)
    samples, rate_hz = soundfile.read(folder / write_take(folder), dtype="float32")
    soundfile.write(folder / "mono.wav", samples[:, 0], rate_hz)
    beat_s, out_and_back = 60.0 / 90.0, 1_777
    first_note_s = START_S + 8 * beat_s + PAUSE_S - CUT_S[0]
    environment = {
        **stand_in(folder, "pyaudio", DUPLEX),
        "ECHO_FRAMES": "1777",
        "ECHO_GAIN": "0",
        "ECHO_SOUND": str(folder / "mono.wav"),
        "ECHO_AFTER": str(round((4 * beat_s - first_note_s + late_s) * RATE_HZ) + out_and_back),
    }
    keep_latency_ms(folder / "data" / "livecheck", "Cable (Loop)", RATE_HZ, 1000.0 * out_and_back / RATE_HZ)
    with Commanding(folder, environment, *ARGUMENTS, "--clean", "1", "--click", click, "--by-ear", "none") as command:
        command.until_seen(large(told))
    (_, clean, take), *_ = attempts(folder)
    assert bool(clean) is (told == "passed")
    assert graded(take, folder, "--figure", "2")[0] == 0, "by its own time it is clean"


def test_a_midi_instrument_whose_bend_range_is_told_once(folder: Path) -> None:
    messages = midi_take(folder)
    settings = [pair for pair in messages if pair[1].type == "control_change"]
    playing = [pair for pair in messages if pair[1].type != "control_change"]
    arguments = (*ARGUMENTS, "--port", "strings", "--clean", "2")
    with (
        jack(folder) as server,
        VirtualPort(server.variables) as port,
        Commanding(folder, server.variables, *arguments) as command,
    ):
        command.until_seen("listening to player:strings (JACK)")
        port.play(settings)
        for number in (1, 2):
            command.until_seen("\nPlay.\n", number)
            port.play(playing)
        assert command.ended() == 0, command.seen
    assert large("clean, 1 more") in command.seen
    assert large("passed") in command.seen
    assert "no click" not in command.seen
    kept = attempts(folder)
    assert [(figure, clean) for figure, clean, _ in kept] == [("2", 1), ("2", 1)]
    assert graded(kept[1][2], folder, "--figure", "2")[0] == 0


def test_a_midi_instrument_without_any_audio(folder: Path) -> None:
    no_audio = stand_in(folder, "pyaudio", "raise ModuleNotFoundError")["PYTHONPATH"]
    arguments = (*ARGUMENTS, "--port", "strings", "--clean", "1")
    with jack(folder) as server:
        environment = {**server.variables, "PYTHONPATH": no_audio}
        with VirtualPort(environment) as port, Commanding(folder, environment, *arguments) as command:
            command.until_seen("\nPlay.\n")
            port.play(midi_take(folder))
            assert command.ended() == 0, command.seen
    assert "sound: PyAudio is not installed" in command.seen
    assert "; no click, nothing by ear" in command.seen


def test_a_foot_switch_starts_over(folder: Path) -> None:
    with pulse(folder) as server, jack(folder), VirtualPort(server.variables) as port:
        arguments = (*ARGUMENTS, "--device", "default", "--foot", "strings")
        with Commanding(folder, server.variables, *arguments) as command:
            command.until_seen("\nPlay.\n", 1)
            port.play([(0.0, mido.Message("control_change", control=64, value=127))])
            command.until_seen("\nPlay.\n", 2)
            command.interrupt()
            assert command.ended() == 1
    assert command.seen.count(large("2 at 90")) == 2


def test_calls_that_cannot_be_used_are_one_sentence(folder: Path) -> None:
    environment = quiet_variables(folder)
    for arguments, said in (
        ((), "a lesson is missing, or there is more than one"),
        (("lesson.toml", "--level", "3"), "--level is 3; wanted decibels below full scale, such as -20"),
        (("lesson.toml", "--tempo", "0"), "--tempo is 0; wanted beats a minute, above zero"),
        (("lesson.toml", "--breath", "-1"), "--breath is -1; wanted seconds, zero or more"),
        (("lesson.toml",), "sound: there is no audio input"),
        (("nowhere.toml",), "nowhere.toml: cannot be read"),
    ):
        with Commanding(folder, environment, "practice", *arguments) as command:
            assert command.ended() == 2
        assert command.seen.count("\n") == 1
        assert said in command.seen


@pytest.mark.parametrize(("click", "late"), [("all", True), ("count-in", False)])
def test_the_time_of_a_midi_instrument_is_judged_by_the_click_where_that_goes_on(
    folder: Path, click: str, late: bool
) -> None:
    """Late by an eighth of a second, and by what it takes to see "Play.", which is told 0.3 s before the first beat."""
    whole = midi_take(folder)
    first_s = next(time_s for time_s, message in whole if message.type == "note_on")
    messages = [(max(0.0, time_s - first_s + 0.42), message) for time_s, message in whole]
    arguments = (*ARGUMENTS, "--port", "strings", "--clean", "1", "--click", click, "--by-ear", "none")
    with (
        jack(folder) as server,
        VirtualPort(server.variables) as port,
        Commanding(folder, server.variables, *arguments) as command,
    ):
        command.until_seen("\nPlay.\n")
        port.play(messages)
        command.until_seen(" ms late\n" if late else large("passed"))
    assert ("ms late" in command.seen) is late
