"""Killed at any moment it has lost no attempt that had ended; `tests/live/killed.py` tries it a hundred times."""

from __future__ import annotations

from pathlib import Path

from tests.live.killed import kill_often


def test_killed_at_random_moments(tmp_path: Path) -> None:
    kills = kill_often(tmp_path, 5, seed=2)
    assert sum(kill.ended for kill in kills) >= 2
    assert all(kill.kept >= kill.ended for kill in kills), kills
    assert all(kill.sound for kill in kills), kills
