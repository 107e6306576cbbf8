"""The take so far: whatever was appended, in order, with silence on both sides."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ


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


def test_a_slice_may_lie_across_the_pieces_that_it_is_kept_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("livecheck.hearing.sound.recording.PIECE", 512)
    rng = np.random.default_rng(1)
    whole = rng.normal(0.0, 0.1, 5000).astype(np.float32)
    recording = Recording()
    for piece in np.split(whole, [1, 511, 512, 513, 2048, 4000]):
        recording.append(piece)
    amid = np.concatenate((np.zeros(1000, dtype=np.float32), whole, np.zeros(1000, dtype=np.float32)))
    for start, length in zip(rng.integers(-900, 5000, 300).tolist(), rng.integers(0, 900, 300).tolist(), strict=True):
        assert np.array_equal(recording.slice(start, start + length), amid[start + 1000 : start + 1000 + length])
