"""A take from a file lies aside while it is graded: it is not in memory, and what is heard of it is the same."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from livecheck.grading.take import play
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.reports.played import PlayedTake
from tests.pages.example import TAKE, asked, demo_take


def traced() -> tuple[PlayedTake, int]:
    """The bundled take, and how many bytes are kept with it."""
    tracemalloc.start()
    try:
        return play(TAKE, "take.ogg", asked()), tracemalloc.get_traced_memory()[0]
    finally:
        tracemalloc.stop()


def test_a_take_is_not_kept_in_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    demo_take()  # so that everything is imported
    aside, aside_bytes = traced()
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path / "gone"))
    within, within_bytes = traced()
    sound_bytes = np.dtype(np.float32).itemsize * WORK_RATE_HZ * aside.duration_s
    assert within_bytes - aside_bytes > 0.8 * sound_bytes
    assert aside.verdict == within.verdict
    assert aside.samples is not None
    assert within.samples is not None
    assert np.array_equal(aside.samples(0.0, aside.duration_s), within.samples(0.0, within.duration_s))
