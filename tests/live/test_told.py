"""What is told and kept of a figure while the take goes on."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import mido
import pytest

from livecheck.sources.midi_file import read_midi
from tests.cli.call import write_midi
from tests.live.listening import Listening, graded, midi_take, played_to
from tests.live.remark_delay import measure
from tests.live.servers import jack, until
from tests.live.virtual_port import VirtualPort

RINGS_ON_S = 0.6


def attempts(folder: Path) -> list[tuple[str, int, int]]:
    """Figure, clean and provisional of all attempts that are kept."""
    with closing(sqlite3.connect(folder / "data" / "livecheck" / "attempts.sqlite")) as database:
        return database.execute("SELECT figure, clean, provisional FROM attempt ORDER BY began").fetchall()


@pytest.mark.parametrize("source", ["audio", "midi"])
def test_killed_after_a_figure_has_ended_it_leaves_its_attempt(folder: Path, source: str) -> None:
    with played_to(source, folder) as heard:
        until(lambda: attempts(folder) != [])
        heard.kill()
    assert attempts(folder) == [("2", 1, 1)]


def ringing_on(folder: Path) -> list[tuple[float, mido.Message]]:
    """Figure 1, whose last string goes on sounding after its block."""
    write_midi(folder, "one.mid", ("1",))
    messages = list(read_midi(str(folder / "one.mid")).messages)
    late = [
        (time_s + RINGS_ON_S * (message.type == "note_off" and message.channel == 1), message)
        for time_s, message in messages
    ]
    return sorted(late, key=lambda one: one[0])


def test_what_the_end_of_the_take_makes_different_is_told_once_in_plain_words(folder: Path) -> None:
    messages = ringing_on(folder)
    with (
        jack(folder) as server,
        VirtualPort(server.variables) as port,
        Listening(["--port", "strings", "--figure", "1"], folder, server.variables) as heard,
    ):
        port.play(messages)
        status, output = heard.end()
    lines = [line.rstrip() for line in output.splitlines()]
    assert status == 1
    assert lines[:3] == [
        "1: clean",
        "Now that the whole take is known:",
        "  figure 1 at 0.5 s: 1 mistake; step 3, string 2: rang on",
    ]
    assert attempts(folder) == [("1", 0, 0)]


def test_nothing_is_told_where_json_is_wanted_but_all_is_kept(folder: Path) -> None:
    messages = midi_take(folder, late_s=0.25)
    arguments = ["--port", "strings", "--figure", "2", "--json"]
    with (
        jack(folder) as server,
        VirtualPort(server.variables) as port,
        Listening(arguments, folder, server.variables) as heard,
    ):
        port.play(messages)
        until(lambda: attempts(folder) != [])
        assert attempts(folder) == [("2", 0, 1)]
        port.play(messages)
        status, output = heard.end()
    assert json.loads(output)["take"]
    (path,) = (folder / "data" / "livecheck" / "takes").glob("*/*")
    assert graded(str(path), folder, "--figure", "2") == (status, output)
    assert attempts(folder) == [("2", 0, 0), ("2", 0, 0)]


def test_what_is_wrong_is_said_while_the_figure_is_played(folder: Path) -> None:
    _, said = measure(folder, 4, "click")
    assert [one.kind for one in said] == ["wrong note", "extra", "missed string", "late"]
    assert all(one.took_ms is not None for one in said), said
