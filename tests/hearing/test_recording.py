"""The take so far: whatever was appended, in order, with silence on both sides."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from livecheck.hearing.recording import Recording
from livecheck.hearing.resample import WORK_RATE_HZ


@given(st.lists(st.integers(0, 40_000), max_size=6), st.integers(-2000, 120_000), st.integers(0, 3000))
def test_a_slice_is_that_of_all_that_was_appended_amid_silence(sizes: list[int], start: int, length: int) -> None:
    whole = np.random.default_rng(0).normal(0.0, 0.1, sum(sizes)).astype(np.float32)
    recording = Recording()
    for piece in np.split(whole, np.cumsum(sizes)):
        recording.append(piece)
    silence = np.zeros(130_000, dtype=np.float32)
    amid = np.concatenate((silence, whole, silence))
    assert len(recording) == len(whole)
    assert recording.duration_s == len(whole) / WORK_RATE_HZ
    assert np.array_equal(recording.slice(start, start + length), amid[start + 130_000 : start + 130_000 + length])


def test_a_slice_of_nothing_is_silence() -> None:
    recording = Recording()
    assert recording.duration_s == 0.0
    assert recording.slice(-5, 5).tolist() == [0.0] * 10
