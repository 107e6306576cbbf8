"""Files that a command writes: never over another one unless that is asked for, and as a whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from livecheck.errors import Unusable


def check_free(option: str, path: str, overwrite: bool) -> None:
    """Unusable if a file is there already, or cannot come there; asked before anything takes time."""
    if os.path.isdir(path):
        raise Unusable(f"{option}: {path} is a folder; wanted a file")
    if os.path.lexists(path) and not overwrite:
        raise Unusable(f"{option}: {path} is there already; wanted another name, or --overwrite to write over it")
    if not os.path.isdir(os.path.dirname(path) or "."):
        raise Unusable(f"{option}: {path} lies in no folder that is there; wanted one that is")


def write_new(option: str, path: str, data: bytes, overwrite: bool) -> None:
    """Write the file. Unusable if it cannot be, or if meanwhile another one is there."""
    target = Path(path)
    try:
        descriptor, name = tempfile.mkstemp(dir=target.parent, prefix=".livecheck-")
        try:
            with open(descriptor, "wb") as file:
                file.write(data)
            os.chmod(name, 0o644)
            if overwrite:
                os.replace(name, target)
            else:
                os.link(name, target)
        finally:
            Path(name).unlink(missing_ok=True)
    except FileExistsError:
        raise Unusable(f"{option}: {path} is there already; wanted another name, or --overwrite") from None
    except OSError as error:
        raise Unusable(f"{option}: {path} cannot be written ({error.strerror}); wanted a place for a file") from None
