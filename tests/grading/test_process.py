"""How many cores a process may use; the files are as Linux documents them: "Control Group v2", "CPU Interface Files",
and of version 1 "CFS Bandwidth Control", with its examples."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from livecheck.grading import process


@pytest.fixture(autouse=True)
def _on_a_machine_of_sixteen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(process, "CONTROL_GROUP", tmp_path)
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: set(range(16)), raising=False)


@pytest.mark.parametrize(
    ("said", "count"),
    [("max 100000", 16), ("100000 100000", 1), ("150000 100000", 2), ("10000 50000", 1), ("6400000 100000", 16)],
)
def test_a_containers_quota_counts(tmp_path: Path, said: str, count: int) -> None:
    (tmp_path / "cpu.max").write_text(f"{said}\n")
    assert process.cores() == count


@pytest.mark.parametrize(("quota", "count"), [("-1", 16), ("1000000", 2), ("20000", 1)])
def test_so_does_one_of_version_1(tmp_path: Path, quota: str, count: int) -> None:
    (tmp_path / "cpu").mkdir()
    (tmp_path / "cpu" / "cpu.cfs_quota_us").write_text(f"{quota}\n")
    (tmp_path / "cpu" / "cpu.cfs_period_us").write_text("500000\n")
    assert process.cores() == count


@pytest.mark.parametrize("said", ["", "much of it", "100000", "0 0", "100000 0"])
def test_what_tells_nothing_is_no_limit(tmp_path: Path, said: str) -> None:
    (tmp_path / "cpu.max").write_text(said)
    assert process.cores() == 16


def test_where_there_is_no_such_file_there_is_no_limit() -> None:
    assert process.cores() == 16
