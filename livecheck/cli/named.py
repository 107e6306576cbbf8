"""How a lesson that is written names its copedent."""

from __future__ import annotations

import os
from pathlib import Path


def copedent_named(named: str, folder: Path, out: str) -> str:
    """A copedent that is named relative to a folder, as a lesson at `out` names it."""
    from livecheck.sources.library import names_of

    if named in names_of("copedents"):
        return named
    return os.path.relpath(folder / named, Path(out).parent).replace(os.sep, "/")
