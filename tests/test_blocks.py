"""How the input is cut into blocks changes nothing: the same samples give the same report, byte for byte."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import numpy as np
import pytest
import soundfile
import soxr
from numpy.typing import NDArray

from livecheck.engine import AudioEngine, Brief
from livecheck.reports.document import document_of, text_of
from livecheck.sources.library import load_lesson, load_tolerances

FROM_S, TO_S = 9.5, 20.0
"""One figure of the demo, with a little of what is before and after it."""


@cache
def _samples(rate_hz: int) -> NDArray[np.float32]:
    with files("livecheck.demo").joinpath("take.ogg").open("rb") as file:
        samples, own_hz = soundfile.read(file, dtype="float32")
    part = samples[round(FROM_S * own_hz) : round(TO_S * own_hz)]
    return np.asarray(soxr.resample(part, own_hz, rate_hz) if rate_hz != own_hz else part, dtype=np.float32)


@cache
def _report(rate_hz: int, block: int) -> str:
    lesson = load_lesson(str(files("livecheck.demo").joinpath("lesson.toml")))
    engine = AudioEngine(Brief(lesson, lesson.figures, load_tolerances("standard")), rate_hz)
    samples = _samples(rate_hz)
    for start in range(0, len(samples), block):
        engine.feed(samples[start : start + block])
    return text_of([document_of(engine.finish("take"))])


@pytest.mark.parametrize("block", [64, 256, 1000])
@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
def test_blocks_of_any_size_give_the_same_report(rate_hz: int, block: int) -> None:
    assert _report(rate_hz, block) == _report(rate_hz, 8192)


def test_the_report_that_is_compared_has_something_in_it() -> None:
    assert '"flat"' in _report(48_000, 8192)
