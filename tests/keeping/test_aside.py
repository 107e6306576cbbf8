"""A take that lies in a file while it goes on is the same as one in memory, and leaves nothing behind."""

from __future__ import annotations

import os
import resource
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from io import FileIO
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.errors import Unusable
from livecheck.hearing.sound.recording import Recording
from livecheck.keeping.aside import Aside

PIECE = 512


@pytest.fixture(autouse=True)
def small_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("livecheck.hearing.sound.recording.PIECE", PIECE)


@contextmanager
def files_of_at_most(size: int) -> Iterator[None]:
    """No file of this process may grow beyond so many bytes, as on a full disk (EFBIG; Python ignores SIGXFSZ)."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def filled(recording: Recording, sizes: list[int]) -> Recording:
    rng = np.random.default_rng(3)
    for size in sizes:
        recording.append(rng.normal(0.0, 0.1, size).astype(np.float32))
    return recording


@given(st.lists(st.integers(0, 1500), max_size=8), st.integers(-600, 8000), st.integers(0, 2000))
def test_what_is_read_is_what_was_appended(sizes: list[int], start: int, length: int) -> None:
    aside = filled(Recording(Aside(Path("/"))), sizes)  # not to be written by most; then it is another folder
    assert np.array_equal(
        aside.slice(start, start + length), filled(Recording(), sizes).slice(start, start + length), equal_nan=True
    )


def test_nothing_is_left_in_the_folder_and_nothing_is_seen_in_it(tmp_path: Path) -> None:
    recording = filled(Recording(Aside(tmp_path)), [3000])
    assert os.listdir(tmp_path) == []
    assert len(recording.slice(0, 3000)) == 3000


@pytest.mark.parametrize("is_asked", [True, False])
@pytest.mark.parametrize(("mode", "size"), [("w+", 0), ("w", 4 * PIECE)])
def test_what_a_failing_disk_does_not_give_back_is_told_in_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mode: str, size: int, is_asked: bool
) -> None:
    """And where that was: TMPDIR changes nothing where the take lies in a folder of its own."""
    with FileIO(tmp_path / "aside", mode) as file:
        monkeypatch.setattr("tempfile.TemporaryFile", lambda **_: file)
        written = Aside(tmp_path if is_asked else None)(np.ones(PIECE, dtype=np.float32))
        file.truncate(size)
        with pytest.raises(Unusable, match=r"cannot be read back \(.*\); wanted a disk that keeps it") as told:
            written[0:PIECE]
    assert str(told.value).startswith(f"{tmp_path if is_asked else tempfile.gettempdir()}")
    assert ("TMPDIR" in str(told.value)) is not is_asked


def test_what_a_full_disk_does_not_take_stays_in_memory(tmp_path: Path) -> None:
    aside = Aside(tmp_path)
    with files_of_at_most(4 * PIECE * 2 + 100):
        recording = filled(Recording(aside), [PIECE] * 5)
    assert np.array_equal(recording.slice(0, 5 * PIECE), filled(Recording(), [PIECE] * 5).slice(0, 5 * PIECE))


def test_no_place_at_all_is_no_reason_to_stop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path / "gone"))
    recording = filled(Recording(Aside(tmp_path / "nowhere")), [3000])
    assert np.array_equal(recording.slice(0, 3000), filled(Recording(), [3000]).slice(0, 3000))
