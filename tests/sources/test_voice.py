"""What is told by ear: tones of our own, and speech by whatever engine there is."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import numpy as np
import pytest

from livecheck.sources.voice import TONE_S, TONES_HZ, Outcome, spoken, tones

ENGINE = f"""#!{sys.executable}
import sys, numpy, soundfile
option, path, dashes, sentence = sys.argv[1:]
assert (option, dashes) == ("-w", "--")
if sentence == "-fail":
    sys.exit(1)
soundfile.write(path, 0.9 * numpy.sin(numpy.arange(len(sentence) * 1000) * 0.1), 22050)
"""


@pytest.mark.parametrize("outcome", list(TONES_HZ))
def test_tones_are_what_they_should_be_and_no_louder_than_asked(outcome: Outcome) -> None:
    samples = tones(outcome, 48_000, -20.0)
    parts = samples.reshape(len(TONES_HZ[outcome]), round(TONE_S * 48_000))
    highest = [np.argmax(np.abs(np.fft.rfft(part, 48_000))) for part in parts]
    assert highest == pytest.approx(TONES_HZ[outcome], abs=2.0)
    assert np.abs(samples).max() == pytest.approx(0.1, rel=0.01)


def test_what_was_clean_rises_and_what_was_not_falls() -> None:
    assert list(TONES_HZ["clean"]) == sorted(TONES_HZ["clean"])
    assert TONES_HZ["faulty"][0] > TONES_HZ["faulty"][1]


def test_speech_by_an_engine_that_is_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "espeak-ng").write_text(ENGINE, encoding="utf-8")
    (tmp_path / "espeak-ng").chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=os.pathsep)
    samples = spoken("bar 20 cents flat", 48_000, -20.0)
    assert samples is not None
    assert len(samples) == pytest.approx(17_000 * 48_000 / 22_050, abs=50)
    assert np.abs(samples).max() == pytest.approx(0.2, rel=0.01)
    assert spoken("-fail", 48_000, -20.0) is None


def test_without_an_engine_nothing_is_spoken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert spoken("bar 20 cents flat", 48_000, -20.0) is None
