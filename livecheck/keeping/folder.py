"""Where takes and verdicts are kept.

By default `livecheck` in the user's data folder, as the XDG Base Directory Specification 0.8 has it: `$XDG_DATA_HOME`
if that is an absolute path, `~/.local/share` otherwise.
"""

from __future__ import annotations

import os
import re
import tempfile
from datetime import datetime
from pathlib import Path

LONGEST_NAME = 40
NOTEBOOK = "attempts.sqlite"


def default_folder() -> Path:
    """The folder that is used unless another one is asked for."""
    given = os.environ.get("XDG_DATA_HOME", "")
    base = Path(given) if os.path.isabs(given) else Path.home() / ".local" / "share"
    return base / "livecheck"


def check_place(folder: Path) -> None:
    """OSError unless a file can be made in a folder, or in the nearest one above it that is there; leaves nothing."""
    while not folder.exists():
        folder = folder.parent
    with tempfile.TemporaryFile(dir=folder):
        pass


def new_take(folder: Path, title: str, began: datetime, suffix: str) -> Path:
    """The path of a new, empty file for a take, by day, time and lesson. OSError if it cannot be made."""
    day = folder / "takes" / began.strftime("%Y-%m-%d")
    day.mkdir(parents=True, exist_ok=True)
    words = re.sub(r"[^a-z0-9]+", "-", title.casefold())[:LONGEST_NAME].strip("-")
    name = "-".join(filter(None, [began.strftime("%H%M%S"), words]))
    number = 1
    while True:
        path = day / f"{name}{f'-{number}' if number > 1 else ''}{suffix}"
        try:
            path.touch(exist_ok=False)
        except FileExistsError:
            number += 1
        else:
            return path
