"""Files that a command writes: never over another one unless that is asked for, and as a whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable, Mapping
from itertools import combinations
from pathlib import Path

from livecheck.errors import Unusable


def check_outputs(outputs: Mapping[str, str], inputs: Iterable[str], overwrite: bool) -> None:
    """Unusable if a file to be written (by its option) is there already, or cannot come there, or is one that the call
    reads, or another that it writes: what is written over is lost. Asked before anything takes time."""
    for option, path in outputs.items():
        _check_free(option, path, overwrite)
    _check_apart(outputs, inputs)


def _check_free(option: str, path: str, overwrite: bool) -> None:
    if not path:
        raise Unusable(f"{option}: the name is empty; wanted a file")
    if os.path.isdir(path):
        raise Unusable(f"{option}: {path} is a folder; wanted a file")
    if os.path.exists(path) and not os.path.isfile(path):
        raise Unusable(f"{option}: {path} is a pipe or a device; wanted a file")
    if os.path.lexists(path) and not overwrite:
        raise Unusable(f"{option}: {path} is there already; wanted another name, or --overwrite to write over it")
    if not os.path.isdir(os.path.dirname(path) or "."):
        raise Unusable(f"{option}: {path} lies in no folder that is there; wanted one that is")


def _check_apart(outputs: Mapping[str, str], inputs: Iterable[str]) -> None:
    for option, path in outputs.items():
        if any(_same(path, read) for read in inputs):
            raise Unusable(f"{option}: {path} is what is read; wanted another file")
    for (one, path), (other, again) in combinations(outputs.items(), 2):
        if _same(path, again):
            raise Unusable(f"{path} is named for {one} and for {other}; wanted a file for each")


def _same(one: str, other: str) -> bool:
    try:
        return os.path.samefile(one, other)
    except (OSError, ValueError):  # one of them is not there
        return os.path.abspath(one) == os.path.abspath(other)


def write_new(option: str, path: str, data: bytes, overwrite: bool) -> None:
    """Write the file. Unusable if it cannot be, or if meanwhile another one is there."""
    target = Path(os.path.realpath(path))
    try:
        descriptor, name = tempfile.mkstemp(dir=target.parent, prefix=".livecheck-")
        try:
            with open(descriptor, "wb") as file:
                file.write(data)
            os.chmod(name, 0o644)
            if overwrite:
                os.replace(name, target)
            else:
                _place(name, target)
        finally:
            Path(name).unlink(missing_ok=True)
    except FileExistsError:
        raise Unusable(f"{option}: {path} is there already; wanted another name, or --overwrite") from None
    except OSError as error:
        raise Unusable(f"{option}: {path} cannot be written ({error.strerror}); wanted a place for a file") from None


def _place(name: str, target: Path) -> None:
    """Give a file its name, if nothing has it."""
    try:
        os.link(name, target)
    except FileExistsError:
        raise
    except OSError:  # memory cards and sticks know no second name of a file
        os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
        os.replace(name, target)
