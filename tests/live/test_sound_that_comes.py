"""What comes from a device: any rate, any channel, gaps.

By a stand-in for PyAudio, as no server loses sound on demand.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
import soundfile

from livecheck.cli.live_audio import PAUSE_S
from livecheck.keeping.flac_take import as_kept
from tests.live.listening import Listening, graded, write_take
from tests.live.servers import stand_in

LOOPBACK = (Path(__file__).parent / "loopback.py").read_text(encoding="utf-8")
GONE = "Loopback (Loop) has gone; waiting for it"


def heard(
    folder: Path, take: str, *arguments: str, lost: str = "", wrapper: Sequence[str] = ()
) -> tuple[int, str, list[str]]:
    """Exit status, standard output and what was told when a file was played to it and the device then pulled out."""
    environment = {**stand_in(folder, "pyaudio", LOOPBACK), "LOOPBACK": str(folder / take), "LOOPBACK_LOST": lost}
    arguments = ("--json", "--figure", "2", "--device", "loop", *arguments)
    with Listening(arguments, folder, environment, wrapper) as listening:
        listening.until_told(GONE)
        status, output = listening.end()
    return status, output, listening.told


@pytest.mark.parametrize("rate_hz", [8_000, 22_050, 44_100, 96_000, 192_000])
def test_any_rate_is_kept_and_graded(folder: Path, rate_hz: int) -> None:
    samples, _ = soundfile.read(folder / write_take(folder), dtype="float32")
    at_s = np.arange(len(samples)) / 48_000
    wanted_s = np.arange(0.0, at_s[-1], 1.0 / rate_hz)
    soundfile.write(folder / "in.wav", np.interp(wanted_s, at_s, samples[:, 0]), rate_hz, "FLOAT")
    status, output, _ = heard(folder, "in.wav")
    take = json.loads(output)["take"]
    assert graded(take, folder, "--figure", "2") == (status, output)
    assert status == 0
    played, _ = soundfile.read(folder / "in.wav", dtype="float32")
    kept, kept_hz = soundfile.read(take, dtype="float32")
    assert kept_hz == rate_hz
    pause = np.zeros(round(PAUSE_S * rate_hz), dtype=np.float32)
    assert np.array_equal(kept, np.concatenate([as_kept(played), pause]))


@pytest.mark.parametrize(("channel", "status"), [("1", 2), ("2", 0)])
def test_only_the_channel_asked_for_is_heard(folder: Path, channel: str, status: int) -> None:
    write_take(folder, left=0.0, right=1.0)
    found, output, _ = heard(folder, "two.wav", "--channel", channel)
    assert found == status
    if status == 0:
        assert json.loads(output)["clean"]


def test_lost_sound_is_told_once_and_its_figure_is_marked(folder: Path) -> None:
    take = write_take(folder)
    whole, _ = soundfile.read(folder / take, dtype="float32")
    status, output, told = heard(folder, take, lost="150 200")
    document = json.loads(output)
    kept, _ = soundfile.read(document["take"], dtype="float32")
    assert len(kept) == len(whole) - 2 * 480 + PAUSE_S * 48_000
    assert graded(document["take"], folder, "--figure", "2") == (status, output)
    at_s = document["figures"][0]["start_s"]
    assert told[1:] == [
        "livecheck: sound was lost at 1.5 s; is the machine busy with something else?\n",
        f"livecheck: {GONE}\n",
        f"livecheck: figure 2 at {at_s:.1f} s had a gap in it; what is said of it may be wrong\n",
        "livecheck: sound was lost twice in all\n",
    ]
    with sqlite3.connect(folder / "data" / "livecheck" / "attempts.sqlite") as database:
        assert database.execute("SELECT gaps FROM attempt").fetchall() == [(2,)]
    database.close()


def test_a_figure_that_had_a_gap_is_told_as_such_and_not_as_if_it_were_whole(folder: Path) -> None:
    environment = {**stand_in(folder, "pyaudio", LOOPBACK), "LOOPBACK": str(folder / write_take(folder))}
    arguments = ["--figure", "2", "--device", "loop"]
    for lost, told in (("", "2: clean"), ("150", "2: sound was lost")):
        with Listening(arguments, folder, {**environment, "LOOPBACK_LOST": lost}) as listening:
            listening.until_told(GONE)
            _, output = listening.end()
        assert output.splitlines()[0].rstrip() == told


LIMITED = ["sh", "-c", 'ulimit -f 100; exec "$@"', "sh"]
"""No file may be longer than 51200 bytes."""


def test_a_disk_that_is_full_is_told_once_and_playing_goes_on(folder: Path) -> None:
    status, output, told = heard(folder, write_take(folder), wrapper=LIMITED)
    assert (status, json.loads(output)["clean"]) == (0, True)
    data = folder / "data" / "livecheck"
    assert told[1:] == [
        f"livecheck: {data}: this take is not kept (File too large); playing goes on\n",
        f"livecheck: {GONE}\n",
    ]


@pytest.mark.parametrize(
    ("keep", "wrapper", "last"),
    [
        ("kept", (), "The take: "),
        ("kept", LIMITED, "The take, as far as it could be kept: "),
        ("two.wav/kept", (), " CLEAN"),
    ],
)
def test_where_the_take_is_stands_at_the_end(folder: Path, keep: str, wrapper: Sequence[str], last: str) -> None:
    environment = {**stand_in(folder, "pyaudio", LOOPBACK), "LOOPBACK": str(folder / write_take(folder))}
    with Listening(["--figure", "2", "--device", "loop", "--keep", keep], folder, environment, wrapper) as listening:
        listening.until_told(GONE)
        _, output = listening.end()
    lines = [line.rstrip() for line in output.splitlines() if line.rstrip()]
    assert lines[-1].startswith(last)


def test_an_input_that_gives_nothing_is_told_once(folder: Path) -> None:
    soundfile.write(folder / "silence.wav", np.zeros(8_000 * 20), 8_000)
    status, output, told = heard(folder, "silence.wav")
    assert (status, output) == (2, "")
    assert told[1:3] == [
        "livecheck: nothing comes from Loopback (Loop); is it plugged in and turned up?\n",
        f"livecheck: {GONE}\n",
    ]
    assert len(told) == 4
