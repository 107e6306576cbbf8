"""Keeping a take never stands in its way: what cannot be kept is told once."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from livecheck.keeping.attempt import Attempt
from livecheck.keeping.flac_take import as_kept
from livecheck.keeping.folder import default_folder, new_take
from livecheck.keeping.keeper import NOT_KEPT, Keeper
from livecheck.keeping.notebook import Notebook

BEGAN = datetime(2026, 11, 2, 18, 30, 5, tzinfo=UTC)
ONE = Attempt("1", 1, BEGAN, 0.5, True, True, 0, "{}")
TONE = as_kept(np.sin(np.arange(48_000) / 20.0).astype(np.float32))


def play(keeper: Keeper) -> None:
    """A take in which an attempt ends half way."""
    keeper.begin_audio(48_000)
    keeper.samples(TONE)
    keeper.keep([ONE])
    keeper.samples(TONE)
    keeper.end()
    keeper.revise([ONE])
    keeper.close()


def test_a_take_and_its_attempt_are_kept(tmp_path: Path) -> None:
    told: list[str] = []
    keeper = Keeper(tmp_path / "new", "Back porch: study no. 2", BEGAN, told.append)
    play(keeper)
    assert told == []
    assert keeper.path == str(tmp_path / "new/takes/2026-11-02/183005-back-porch-study-no-2.flac")
    (attempt,) = Notebook(tmp_path / "new/attempts.sqlite").attempts("Back porch: study no. 2")
    assert (attempt.take, attempt.verdict) == (keeper.path, "{}")


def test_a_folder_that_cannot_be_written_is_told_once(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    told: list[str] = []
    keeper = Keeper(tmp_path / "file" / "below", "L", BEGAN, told.append)
    play(keeper)
    assert told == [f"{tmp_path}/file/below: this take is not kept (Not a directory); playing goes on"]
    assert keeper.path == NOT_KEPT


def test_a_take_that_cannot_be_written_further_still_has_its_attempts(tmp_path: Path) -> None:
    told: list[str] = []
    keeper = Keeper(tmp_path, "L", BEGAN, told.append)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("livecheck.keeping.keeper.new_take", lambda *_: Path("/dev/full"))
        play(keeper)
    assert told == [f"{tmp_path}: this take is not kept (No space left on device); playing goes on"]
    assert len(Notebook(tmp_path / "attempts.sqlite").attempts("L")) == 1


def test_a_notebook_that_is_no_database_is_told_once_and_the_sound_is_kept(tmp_path: Path) -> None:
    (tmp_path / "attempts.sqlite").write_text("no database" * 1000, encoding="ascii")
    told: list[str] = []
    keeper = Keeper(tmp_path, "L", BEGAN, told.append)
    play(keeper)
    assert told == [f"{tmp_path}: this take is not kept (file is not a database); playing goes on"]
    assert Path(keeper.path).stat().st_size > 10_000


def test_takes_of_one_second_get_names_of_their_own(tmp_path: Path) -> None:
    paths = [new_take(tmp_path, "Über ♭ / ../x", BEGAN, ".mid") for _ in range(3)]
    assert [path.name for path in paths] == ["183005-ber-x.mid", "183005-ber-x-2.mid", "183005-ber-x-3.mid"]
    assert new_take(tmp_path, "♭", BEGAN, ".mid").name == "183005.mid"


def test_the_folder_is_where_the_specification_has_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """XDG Base Directory Specification 0.8: a relative path is to be ignored."""
    monkeypatch.setenv("HOME", "/home/player")
    for given, wanted in (("/data", "/data"), ("", "/home/player/.local/share"), ("data", "/home/player/.local/share")):
        monkeypatch.setenv("XDG_DATA_HOME", given)
        assert default_folder() == Path(wanted, "livecheck")
