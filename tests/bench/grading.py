"""Grades a take of the benchmark in process, by the same engine that the command uses."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from livecheck.engine import AudioEngine, Brief, MidiEngine
from livecheck.errors import Unusable
from livecheck.reports.document import document_of
from livecheck.sources.library import load_input, load_tolerances
from tests.bench import render
from tests.bench.bank import RATE_HZ
from tests.bench.take import Take

BLOCK = 4096


def _brief(take: Take) -> Brief:
    return Brief(take.lesson, take.lesson.figures, load_tolerances("standard"), take.timing)


def grade_audio(take: Take, samples: NDArray[np.float32], rate_hz: int = RATE_HZ) -> dict[str, Any]:
    """The report on samples as plain values; one without figures if none was found."""
    engine = AudioEngine(_brief(take), rate_hz)
    for start in range(0, len(samples), BLOCK):
        engine.feed(samples[start : start + BLOCK])
    try:
        return dict(document_of(engine.finish(take.name)))
    except Unusable as error:
        return {"figures": [], "error": str(error), "tuning_cents": 0.0, "tempo": None}


def grade_midi(take: Take) -> dict[str, Any]:
    """The report on the take as MIDI."""
    spoken = load_input("channel-per-string").for_strings(len(take.lesson.copedent.strings))
    engine = MidiEngine(_brief(take), spoken)
    now_s = 0.0
    for message in render.midi(take.played, take.tuning_cents).tracks[0]:
        now_s += message.time / render.TICKS_PER_S
        engine.feed(now_s, message)
    try:
        return dict(document_of(engine.finish(take.name)))
    except Unusable as error:
        return {"figures": [], "error": str(error), "tuning_cents": 0.0, "tempo": None}
