"""The argument parser: a call that cannot be used is an `Unusable` like everything else."""

from __future__ import annotations

import argparse
import math
from typing import TYPE_CHECKING, NoReturn

from livecheck.cli.output import put
from livecheck.errors import Unusable

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction["Parser"]


class Parser(argparse.ArgumentParser):
    """No abbreviated options; an error names the help that would have helped."""

    def __init__(self, **given: object) -> None:
        super().__init__(**{"allow_abbrev": False, **given})  # type: ignore[arg-type] # each option has its own type

    def error(self, message: str) -> NoReturn:
        raise Unusable(f"{message}; {self.prog} --help tells what can be given")

    def _print_message(self, message: str, *_: object, **__: object) -> None:
        """Help and version; argparse's own way differs between Python's releases where they cannot be written."""
        put(message)


def finite(text: str) -> float:
    """A number from an argument; for `type=`."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise argparse.ArgumentTypeError(f"{text!r} is no number")
    return value


def counted(text: str) -> int:
    """A number from 1 from an argument; for `type=`."""
    try:
        value = int(text)
    except ValueError:
        value = 0
    if value < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no number from 1")
    return value
