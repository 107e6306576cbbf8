"""What is told by ear: a sentence by the machine's speech engine where there is one, else tones of our own.

In: a sentence, or how it went. Out: mono float32 samples, full scale 1, never louder than the click may be. Two tones
that rise are clean; two that fall, twice, are not; one low tone says that nothing could be judged.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Outcome = Literal["clean", "faulty", "nothing"]
ENGINES = (("espeak-ng", "-w"), ("espeak", "-w"))
"""Programs that speak into a file: the name, and the option that names the file."""
PATIENCE_S = 5.0
LOUDER_DB = 6.0
"""Speech is heard over a room at the level of the click and so much more; its peaks are."""
LOUDEST_DB = -3.0
TONES_HZ: dict[Outcome, tuple[float, ...]] = {
    "clean": (523.25, 783.99),
    "faulty": (440.0, 349.23, 440.0, 349.23),
    "nothing": (220.0,),
}
TONE_S = 0.18


def spoken(sentence: str, rate_hz: int, level_db: float) -> NDArray[np.float32] | None:
    """A sentence as speech; None where there is no engine or it fails."""
    import soundfile
    import soxr

    for name, option in ENGINES:
        program = shutil.which(name)
        if program is None:
            continue
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "said.wav"
            try:
                call = [program, option, str(path), "--", sentence]
                subprocess.run(call, check=True, capture_output=True, timeout=PATIENCE_S)
                samples, own_hz = soundfile.read(path, dtype="float32", always_2d=True)
            except (OSError, subprocess.SubprocessError, soundfile.LibsndfileError):
                continue
        mono = soxr.resample(samples.mean(axis=1), own_hz, rate_hz)
        peak = float(np.abs(mono).max(initial=0.0))
        if peak > 0.0:
            return np.asarray(mono * (_gain(level_db + LOUDER_DB) / peak), dtype=np.float32)
    return None


def tones(outcome: Outcome, rate_hz: int, level_db: float) -> NDArray[np.float32]:
    """How it went, as tones."""
    times_s = np.arange(round(TONE_S * rate_hz)) / rate_hz
    shape = np.sin(np.pi * times_s / TONE_S) ** 2
    parts = [shape * np.sin(2.0 * np.pi * hz * times_s) for hz in TONES_HZ[outcome]]
    return np.asarray(_gain(level_db) * np.concatenate(parts), dtype=np.float32)


def _gain(level_db: float) -> float:
    return float(10.0 ** (min(level_db, LOUDEST_DB) / 20.0))
