"""Where a measured instrument is kept: a copedent file, by the name of the copedent that it was measured for."""

from __future__ import annotations

import os
import re
import tempfile
from pathlib import Path

FOLDER = "instruments"


def instrument_path(folder: Path, copedent: str) -> Path:
    """The path below the keeping folder. `copedent` is as a lesson names it; of a path the last part counts."""
    name = re.split(r"[/\\]", copedent)[-1].removesuffix(".toml")
    return folder / FOLDER / f"{re.sub(r'[^A-Za-z0-9._-]+', '-', name) or 'instrument'}.toml"


def write_instrument(path: Path, text: str, *, replace: bool) -> None:
    """Write the file as a whole or not at all. FileExistsError if it is there and not to be replaced; OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    descriptor, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    try:
        with open(descriptor, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, 0o644)
        if replace:
            os.replace(name, path)
        else:
            os.link(name, path)
    finally:
        Path(name).unlink(missing_ok=True)
