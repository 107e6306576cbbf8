"""`livecheck listen` as a process against real servers: what it hears is what `livecheck grade` hears in its take."""

from __future__ import annotations

import json
import sqlite3
import subprocess
from pathlib import Path
from typing import Any

import pytest
import soundfile

from tests.live.listening import Listening, graded, midi_take, play, play_into_jack, played_to, write_take
from tests.live.servers import RATE_HZ, SINK, jack, pulse, stand_in
from tests.live.virtual_port import NAME, VirtualPort


def report(output: str) -> dict[str, Any]:
    document: dict[str, Any] = json.loads(output)
    return document


def attempts(folder: Path) -> list[tuple[str, int, int, int]]:
    """Figure, clean, provisional and gaps of all attempts that are kept."""
    with sqlite3.connect(folder / "data" / "livecheck" / "attempts.sqlite") as database:
        rows = database.execute("SELECT figure, clean, provisional, gaps FROM attempt ORDER BY began").fetchall()
    database.close()
    return rows


@pytest.mark.parametrize(
    ("arguments", "rate_hz", "right"),
    [((), 44_100, 1.0), (("--device", "pulse", "--rate", "96000"), 96_000, 1.0), (("--channel", "2"), 44_100, 0.5)],
)
def test_sound_is_graded_as_its_take_is(folder: Path, arguments: tuple[str, ...], rate_hz: int, right: float) -> None:
    take = write_take(folder, left=1.0 if right == 1.0 else 0.0, right=right)
    with pulse(folder) as server, Listening(["--json", "--figure", "2", *arguments], folder, server.variables) as heard:
        play(take, folder, server.variables)
        status, output = heard.end()
    document = report(output)
    assert (status, document["clean"], document["source"]) == (0, True, "audio")
    assert soundfile.info(document["take"]).samplerate == rate_hz
    assert soundfile.info(document["take"]).subtype == "PCM_24"
    assert graded(document["take"], folder, "--figure", "2") == (status, output)
    label = "pulse (ALSA)" if "pulse" in arguments else "default (ALSA)"
    assert heard.told == [f"livecheck: listening to {label} at {rate_hz} Hz; Ctrl-C ends the take\n"]
    assert attempts(folder) == [("2", 1, 0, 0)]


def test_sound_by_jack_is_graded_as_its_take_is(folder: Path) -> None:
    """A machine that is busy with other tests may lose sound, so nothing is said of how it went."""
    take = write_take(folder)
    arguments = ["--json", "--figure", "2", "--device", "system"]
    with jack(folder) as server, Listening(arguments, folder, server.variables) as heard:
        play_into_jack(take, folder, server.variables)
        status, output = heard.end()
    document = report(output)
    assert document["source"] == "audio"
    assert soundfile.info(document["take"]).samplerate == RATE_HZ
    assert [figure["found"] for figure in document["figures"]] == [True]
    assert graded(document["take"], folder, "--figure", "2") == (status, output)


@pytest.mark.parametrize("source", ["audio", "midi"])
def test_what_is_played_to_a_click_is_graded_as_its_take_is(folder: Path, source: str) -> None:
    arguments = ["--json", "--timing", "click"]
    with played_to(source, folder, *arguments) as heard:
        status, output = heard.end()
    document = report(output)
    assert (document["tempo"], document["source"]) == (90.0, source)
    assert graded(document["take"], folder, "--timing", "click") == (status, output)
    assert [figure["found"] for figure in document["figures"]] == [False, True]


def test_midi_is_graded_as_its_take_is(folder: Path) -> None:
    messages = midi_take(folder, late_s=0.25)
    with (
        jack(folder) as server,
        VirtualPort(server.variables) as port,
        Listening(["--port", "strings", "--json"], folder, server.variables) as heard,
    ):
        port.play(messages)
        status, output = heard.end()
    document = report(output)
    assert (status, document["clean"], document["source"]) == (1, False, "midi")
    assert [c["faults"] for c in document["figures"][1]["checkpoints"]] == [[], ["late"], []]
    assert [figure["found"] for figure in document["figures"]] == [False, True]
    assert graded(document["take"], folder) == (status, output)
    assert heard.told == [f"livecheck: listening to {NAME} (JACK); Ctrl-C ends the take\n"]
    assert attempts(folder) == [("2", 0, 0, 0)]


def test_a_port_of_its_own_for_others_to_connect_to(folder: Path) -> None:
    messages = midi_take(folder)
    with (
        jack(folder) as server,
        VirtualPort(server.variables) as port,
        Listening(["--port", "own", "--json", "--figure", "2"], folder, server.variables) as heard,
    ):
        subprocess.run(["jack_connect", NAME, "livecheck:livecheck"], env=server.variables, check=True)
        port.play(messages)
        status, output = heard.end()
    assert (status, report(output)["clean"]) == (0, True)
    assert graded(report(output)["take"], folder, "--figure", "2") == (status, output)


def test_midi_is_listened_to_where_there_is_no_audio_and_nothing_is_named(folder: Path) -> None:
    messages = midi_take(folder)
    no_audio = stand_in(folder, "pyaudio", "raise ModuleNotFoundError")["PYTHONPATH"]
    with jack(folder) as server:
        environment = {**server.variables, "PYTHONPATH": no_audio}
        with VirtualPort(environment) as port, Listening(["--figure", "2", "--json"], folder, environment) as heard:
            port.play(messages)
            status, output = heard.end()
    assert (status, report(output)["source"], report(output)["clean"]) == (0, "midi", True)


def test_it_is_told_for_a_person_and_ends_by_itself_in_silence(folder: Path) -> None:
    take = write_take(folder)
    with pulse(folder) as server, Listening(["--end-after", "1"], folder, server.variables) as heard:
        play(take, folder, server.variables)
        status, output = heard.ended()
    lines = [line.rstrip() for line in output.splitlines()]
    assert status == 1
    assert "Not found in this take: figure 1" in lines
    assert " 1 FIGURE NOT FOUND" in lines
    (path,) = [line.removeprefix("The take: ") for line in lines if line.startswith("The take: ")]
    assert lines[0] == "2: clean"
    assert Path(path).name in lines[2]
    assert Path(path).is_relative_to(folder / "data" / "livecheck" / "takes")


def test_a_sound_server_that_goes_and_comes_back(folder: Path) -> None:
    take = write_take(folder)
    with pulse(folder) as server, Listening(["--json", "--figure", "2"], folder, server.variables) as heard:
        play(take, folder, server.variables)
        with subprocess.Popen(["paplay", f"--device={SINK}", take], cwd=folder, env=server.variables) as player:
            with pytest.raises(subprocess.TimeoutExpired):
                player.wait(1.5)
            server.end()
        heard.until_told("default (ALSA) has gone; waiting for it")
        server.start()
        heard.until_told("default (ALSA) is back; listening")
        play(take, folder, server.variables)
        status, output = heard.end()
    document = report(output)
    found = [figure for figure in document["figures"] if figure["found"]]
    assert found[0]["clean"]
    assert found[-1]["clean"]
    assert graded(document["take"], folder, "--figure", "2") == (status, output)
    assert len(heard.told) == 3 + sum("had a gap in it" in line for line in heard.told)
    assert {gaps for _, clean, _, gaps in attempts(folder) if clean} == {0}


def test_a_midi_server_that_goes_and_comes_back(folder: Path) -> None:
    messages = midi_take(folder)
    arguments = ["--port", "own", "--json", "--figure", "2"]
    with jack(folder) as server, Listening(arguments, folder, server.variables) as heard:
        for number in range(2):
            with VirtualPort(server.variables) as port:
                subprocess.run(["jack_connect", NAME, "livecheck:livecheck"], env=server.variables, check=True)
                port.play(messages)
            if number == 0:
                server.end()
                heard.until_told("own (JACK) has gone; waiting for it")
                server.start()
                heard.until_told("own (JACK) is back; listening")
        status, output = heard.end()
    document = report(output)
    assert [figure["clean"] for figure in document["figures"]] == [True, True]
    assert graded(document["take"], folder, "--figure", "2") == (status, output)
    assert len(heard.told) == 3


def test_an_instrument_that_is_pulled_out_and_plugged_in_again(folder: Path) -> None:
    messages = midi_take(folder)
    arguments = ["--port", "strings", "--json", "--figure", "2"]
    with jack(folder) as server:
        with VirtualPort(server.variables) as port:
            heard = Listening(arguments, folder, server.variables)
            middle = next(n for n, (_, message) in enumerate(messages) if message.type == "note_off")
            port.play(messages[:middle])
        with heard:
            heard.until_told(f"{NAME} (JACK) has gone; waiting for it")
            with VirtualPort(server.variables) as port:
                heard.until_told(f"{NAME} (JACK) is back; listening")
                port.play(messages)
                status, output = heard.end()
    found = report(output)["figures"]
    assert found[-1]["clean"]
    assert graded(report(output)["take"], folder, "--figure", "2") == (status, output)


def test_a_jack_server_that_goes_and_comes_back(folder: Path) -> None:
    """The dummy driver gives silence, which is no take."""
    with jack(folder) as server, Listening(["--device", "system"], folder, server.variables) as heard:
        server.end()
        heard.until_told("system (JACK) has gone; waiting for it")
        server.start()
        heard.until_told("system (JACK) is back; listening")
        status, output = heard.end()
    assert (status, output) == (2, "")
    assert heard.told[0] == f"livecheck: listening to system (JACK) at {RATE_HZ} Hz; Ctrl-C ends the take\n"
    assert "no figure of this lesson was found in it" in heard.told[-1]
    # A machine that is busy with other tests may lose sound, which is told too.
    assert len(heard.told) == 4 + sum("sound was lost" in line for line in heard.told)


@pytest.mark.parametrize("source", ["audio", "midi"])
def test_killed_it_leaves_a_take_that_can_be_graded(folder: Path, source: str) -> None:
    with played_to(source, folder) as heard:
        heard.kill()
    (path,) = (folder / "data" / "livecheck" / "takes").glob("*/*")
    status, output = graded(str(path), folder, "--figure", "2")
    assert (status, report(output)["clean"]) == (0, True)


def test_a_folder_that_cannot_be_written_is_told_once(folder: Path) -> None:
    messages = midi_take(folder)
    arguments = ["--port", "strings", "--json", "--figure", "2", "--keep", "lesson.toml/below"]
    with (
        jack(folder) as server,
        VirtualPort(server.variables) as port,
        Listening(arguments, folder, server.variables) as heard,
    ):
        port.play(messages)
        status, output = heard.end()
    assert (status, report(output)["take"]) == (0, "take")
    (told,) = [line for line in heard.told if "listening" not in line]
    assert told == f"livecheck: {folder}/lesson.toml/below: this take is not kept (Not a directory); playing goes on\n"


def test_nothing_played_is_one_sentence(folder: Path) -> None:
    with (
        jack(folder) as server,
        VirtualPort(server.variables),
        Listening(["--port", "strings"], folder, server.variables) as heard,
    ):
        status, output = heard.end()
    assert (status, output) == (2, "")
    assert heard.told[1:] == ["livecheck: nothing was heard; wanted a take\n"]
