"""A backing comes out at the rate and as loud as asked for, and parts of it where they were asked for."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from livecheck.errors import Unusable
from livecheck.sources.backing import Backing
from livecheck.sources.driver_message import Sound
from livecheck.sources.mixer import FADE_FRAMES, Mixer

RATE_HZ = 8_000


@pytest.mark.parametrize("suffix", ["wav", "flac", "mp3"])
def test_any_file_at_any_rate(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"band.{suffix}"
    times_s = np.arange(2 * 44_100) / 44_100
    soundfile.write(path, 0.8 * np.sin(2.0 * np.pi * 440.0 * times_s) * (times_s > 1.0), 44_100)
    backing = Backing(str(path), RATE_HZ, -20.0)
    assert np.abs(backing.samples).max() == pytest.approx(0.1, rel=1e-3)
    begins = int(np.flatnonzero(np.abs(backing.samples) > 0.03)[0])
    assert begins == pytest.approx(RATE_HZ, abs=0.06 * RATE_HZ), "MP3 encoders put a little silence first"


def test_before_its_beginning_and_after_its_end_is_silence(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "band.wav", np.full(RATE_HZ, 0.5) * np.resize([1, -1], RATE_HZ), RATE_HZ)
    backing = Backing(str(tmp_path / "band.wav"), RATE_HZ, 0.0)
    part = np.abs(backing.part(-0.5, 2.0))
    assert len(part) == 2 * RATE_HZ
    assert np.flatnonzero(part).tolist() == list(range(RATE_HZ // 2, RATE_HZ // 2 + RATE_HZ))
    assert not backing.part(5.0, 1.0).any()
    assert not backing.part(-3.0, 1.0).any()


def test_what_is_no_audio_is_said(tmp_path: Path) -> None:
    (tmp_path / "band.wav").write_text("no band", encoding="ascii")
    with pytest.raises(Unusable, match=r"band\.wav: is not audio that can be read"):
        Backing(str(tmp_path / "band.wav"), RATE_HZ, -20.0)


def test_hushed_it_fades_soon_and_what_was_still_to_come_does_not() -> None:
    mixer = Mixer()
    mixer.add(Sound(np.ones(10_000, dtype=np.float32).tobytes(), 0))
    mixer.add(Sound(np.ones(100, dtype=np.float32).tobytes(), 5_000))
    assert mixer.begins()
    assert np.frombuffer(mixer.next(1_000, 1), dtype=np.float32).min() == 1.0
    assert not mixer.begins()
    mixer.hush()
    rest = np.frombuffer(mixer.next(9_000, 1), dtype=np.float32)
    assert (np.diff(rest[:FADE_FRAMES]) < 0.0).all()
    assert not rest[FADE_FRAMES:].any()
