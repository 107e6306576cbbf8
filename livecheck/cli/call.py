"""A call of `livecheck`: runs a command line; whatever goes wrong becomes one line and an exit status."""

from __future__ import annotations

import os
import traceback
from collections.abc import Sequence
from pathlib import Path

import livecheck
from livecheck.cli import (
    calibrate,
    demo,
    devices,
    drill,
    grade,
    history,
    listen,
    measure,
    positions,
    practice,
    show,
    write,
)
from livecheck.cli.interrupt import is_interrupt
from livecheck.cli.output import discard, prepare, put, say
from livecheck.cli.parser import Parser
from livecheck.cli.status import CLEAN, UNUSABLE
from livecheck.errors import Unusable

COMMANDS = (calibrate, demo, devices, drill, grade, history, listen, measure, positions, practice, show, write)
TRACE = "LIVECHECK_TRACE"
"""Environment variable: set, the traceback of an error in livecheck itself is shown."""


def call(arguments: Sequence[str]) -> int:
    """Run a command line and give its exit status; no exception leaves it but an interrupt."""
    try:
        prepare()
        status = _run(arguments)
        put("")
        return status
    except Unusable as error:
        say(str(error))
        return UNUSABLE
    except BrokenPipeError:
        discard()
        return CLEAN
    except Exception as error:  # the last resort: no traceback reaches a user
        if is_interrupt(error):
            raise
        if os.environ.get(TRACE):
            traceback.print_exc()
        say(_own_error(error))
        return UNUSABLE


def _run(arguments: Sequence[str]) -> int:
    parser = Parser(
        prog="livecheck",
        description="Compares what was played on a steel guitar with a lesson, and says what was wrong.",
    )
    parser.add_argument("--version", action="version", version=f"livecheck {livecheck.__version__}")
    subparsers = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for command in COMMANDS:
        command.add(subparsers)
    try:
        args, further = parser.parse_known_args(arguments)
    except SystemExit as done:
        return int(done.code or CLEAN)
    if further and (not hasattr(args, "paths") or any(argument.startswith("-") for argument in further)):
        parser.error(f"unrecognized arguments: {' '.join(further)}")
    if further:
        args.paths += further
    status: int = args.run(args)
    return status


def _own_error(error: Exception) -> str:
    """What to report of an error in livecheck: the exception, and the last place in livecheck that it passed."""
    package = Path(livecheck.__file__).parent
    frames = [frame for frame in traceback.extract_tb(error.__traceback__) if package in Path(frame.filename).parents]
    place = f" at {Path(frames[-1].filename).relative_to(package).as_posix()}:{frames[-1].lineno}" if frames else ""
    said = f" ({error})" if str(error) else ""
    return (
        f"something went wrong in livecheck itself: {type(error).__name__}{said}{place}; "
        f"please report it, with {TRACE}=1 set for the details"
    )
