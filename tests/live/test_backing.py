"""`livecheck listen` with a lesson's backing: it is played, and what is played to it is judged by it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import soundfile

from livecheck.keeping.latency import keep_latency_ms
from tests.cli.call import PAUSE_S, START_S
from tests.live.listening import CUT_S, Listening, add_backing, graded, write_take
from tests.live.servers import RATE_HZ, stand_in
from tests.live.test_calibrate import DUPLEX

LATENCY_FRAMES = 1_777
BEAT_S = 60.0 / 90.0
FIRST_NOTE_S = START_S + 8 * BEAT_S + PAUSE_S - CUT_S[0]


@pytest.mark.parametrize("late_s", [0.0, 0.2])
def test_what_is_played_to_the_backing_is_judged_by_it(folder: Path, late_s: float) -> None:
    """A player hears the backing begin, and begins figure 2 where it has it, or late."""
    add_backing(folder)
    samples, rate_hz = soundfile.read(folder / write_take(folder), dtype="float32")
    soundfile.write(folder / "mono.wav", samples[:, 0], rate_hz)
    environment = {
        **stand_in(folder, "pyaudio", DUPLEX),
        "ECHO_FRAMES": str(LATENCY_FRAMES),
        "ECHO_GAIN": "0",
        "ECHO_SPEED": "1",
        "ECHO_SOUND": str(folder / "mono.wav"),
        "ECHO_AFTER": str(round((5.0 - FIRST_NOTE_S + late_s) * RATE_HZ) + LATENCY_FRAMES),
    }
    keep_latency_ms(folder / "data" / "livecheck", "Cable (Loop)", RATE_HZ, 1000.0 * LATENCY_FRAMES / RATE_HZ)
    arguments = ["--json", "--figure", "2", "--timing", "backing", "--end-after", "1"]
    with Listening(arguments, folder, environment) as heard:
        status, output = heard.ended()
    (figure,) = json.loads(output)["figures"]
    assert [c["faults"] for c in figure["checkpoints"]] == [["late"] if late_s else []] * 3
    (begins_s,) = (line.split()[5] for line in heard.told if "the backing begins at" in line)
    assert 1.0 + LATENCY_FRAMES / RATE_HZ < float(begins_s) < 10.0, "a second after it was read"
    path = json.loads(output)["take"]
    again = graded(path, folder, "--figure", "2", "--timing", "backing", "--start", begins_s)
    assert again == (status, output)
