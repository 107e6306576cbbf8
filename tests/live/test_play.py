"""`livecheck play` aloud, to a sound server without hardware that records what it is given."""

from __future__ import annotations

import subprocess
from pathlib import Path

import librosa
import numpy as np

from tests.cli.call import livecheck_call, write_lesson
from tests.live.servers import RATE_HZ, SINK, pulse


def test_a_figure_comes_out_of_the_default_output_as_often_as_asked_without_a_gap(tmp_path: Path) -> None:
    """Figure 2 at 240 beats a minute lasts a second; by librosa's reading it is D5 at its end, both times."""
    lesson = write_lesson(tmp_path)
    with pulse(tmp_path) as server:
        record = ["parec", f"--device={SINK}.monitor", "--format=float32le", f"--rate={RATE_HZ}", "--channels=1"]
        with (
            (tmp_path / "heard.raw").open("wb") as heard,
            subprocess.Popen(record, stdout=heard, env=server.variables) as recorder,
        ):
            arguments = ("play", lesson, "--figure", "2", "--tempo", "240", "--click", "none", "--times", "2")
            done = livecheck_call(*arguments, folder=tmp_path, environment=server.variables)
            recorder.terminate()
    assert (done.returncode, done.stdout) == (0, "Played.\n")
    assert "H.870" in done.stderr
    samples = np.fromfile(tmp_path / "heard.raw", dtype=np.float32)
    sounds = np.flatnonzero(np.abs(samples) > 1e-3)
    first = samples[sounds[0] :]
    assert (sounds[-1] - sounds[0]) / RATE_HZ > 1.9
    for again_s in (0.0, 1.0):
        part = first[round((again_s + 0.55) * RATE_HZ) : round((again_s + 0.95) * RATE_HZ)]
        hz = float(np.median(librosa.yin(part, fmin=200, fmax=2000, sr=RATE_HZ)))
        assert abs(1200.0 * np.log2(hz / librosa.note_to_hz("D5"))) < 20.0


def test_no_output_is_told_in_one_sentence(tmp_path: Path) -> None:
    lesson = write_lesson(tmp_path)
    environment = {
        "XDG_RUNTIME_DIR": str(tmp_path),
        "PULSE_SERVER": "unix:/nowhere",
        "ALSA_CONFIG_PATH": str(tmp_path / "none"),
    }
    done = livecheck_call("play", lesson, folder=tmp_path, environment=environment)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
