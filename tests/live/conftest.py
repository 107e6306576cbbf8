"""A folder with a lesson in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.call import write_lesson


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_lesson(tmp_path)
    return tmp_path
