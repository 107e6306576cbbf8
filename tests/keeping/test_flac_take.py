"""A take as FLAC: it gives back what was fed, at any time, also after the process was killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.keeping.flac_take import FULL_SCALE, FlacTake, as_kept
from livecheck.sources.audio_file import open_audio
from tests.cli.call import variables

ENDLESS = """
import sys
from pathlib import Path
import numpy as np
from livecheck.keeping.flac_take import FlacTake, as_kept
path, rate_hz = Path(sys.argv[1]), int(sys.argv[2])
path.touch()
take, noise = FlacTake(path, rate_hz), np.random.default_rng(5)
for written in range(1, 100_000):
    take.write(as_kept(noise.uniform(-0.5, 0.5, 480).astype(np.float32)))
    print(written * 480, flush=True)
"""


def noise(frames: int) -> NDArray[np.float32]:
    return np.random.default_rng(5).uniform(-0.5, 0.5, frames).astype(np.float32)


def read(path: Path) -> NDArray[np.float32]:
    return np.concatenate(list(open_audio(str(path)).blocks))


def test_what_is_kept_is_the_nearest_of_24_bits() -> None:
    samples = np.array([0.0, 0.3, -0.3, 1.0, 1.5, -1.0, -2.0, np.nan, np.inf, -np.inf], dtype=np.float32)
    kept = as_kept(samples)
    most = np.float32((FULL_SCALE - 1) / FULL_SCALE)
    assert kept[[0, 3, 4, 5, 6, 7, 8, 9]].tolist() == [0.0, most, most, -1.0, -1.0, 0.0, most, -1.0]
    assert np.abs(kept[1:3] - samples[1:3]).max() <= 0.5 / FULL_SCALE
    assert np.array_equal(as_kept(kept), kept)


@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 48_000, 192_000, 47_999])
@pytest.mark.parametrize("block", [64, 480, 8_192])
def test_the_file_gives_exactly_the_samples_that_were_fed(tmp_path: Path, rate_hz: int, block: int) -> None:
    path = tmp_path / "take.flac"
    path.touch()
    samples = as_kept(noise(rate_hz // 2))
    take = FlacTake(path, rate_hz)
    for at in range(0, len(samples), block):
        take.write(samples[at : at + block])
    take.close()
    audio = open_audio(str(path))
    assert (audio.rate_hz, audio.notes) == (rate_hz, ())
    assert np.array_equal(read(path), samples)


@pytest.mark.parametrize("rate_hz", [8_000, 48_000])
@pytest.mark.parametrize("lines", [40, 167, 500])
def test_killed_it_lacks_less_than_the_last_second(tmp_path: Path, rate_hz: int, lines: int) -> None:
    path = tmp_path / "take.flac"
    call = [sys.executable, "-c", ENDLESS, str(path), str(rate_hz)]
    with subprocess.Popen(call, env=variables(), stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        for _ in range(lines):
            written = int(process.stdout.readline())
        process.send_signal(signal.SIGKILL)
    audio = open_audio(str(path))
    assert audio.notes == ()
    samples = read(path)
    assert len(samples) > written - rate_hz
    assert np.array_equal(samples, as_kept(noise(len(samples))))


def test_a_disk_that_is_full_is_an_error_of_the_system(tmp_path: Path) -> None:
    path = tmp_path / "take.flac"
    os.symlink("/dev/full", path)
    with pytest.raises(OSError, match="No space left on device"):
        FlacTake(path, 48_000).write(as_kept(noise(100_000)))
