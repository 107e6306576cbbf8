"""`livecheck show`: a lesson's figures as tablature."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from livecheck.cli.figures import chosen
from livecheck.cli.output import show
from livecheck.cli.status import CLEAN

if TYPE_CHECKING:
    from livecheck.cli.parser import Subparsers


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "show",
        help="print a lesson's figures as tablature",
        usage="livecheck show LESSON [options]",
        description="Prints a lesson's figures as tablature, to read or to put on paper, and at its foot what to set "
        "a delay unit to.",
    )
    parser.add_argument("lesson", metavar="LESSON", help="a lesson file")
    parser.add_argument(
        "--figure",
        dest="figures",
        nargs="+",
        action="extend",
        default=[],
        metavar="NAME",
        help="only these figures of the lesson",
    )
    parser.add_argument(
        "--notes", action="store_true", help="add the pitches, with their cents where they are tempered"
    )
    parser.add_argument(
        "--copedent", metavar="FILE", help="your own instrument: the lesson's strings and changes, its cents"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the figures; the exit status."""
    from livecheck.lesson.delay import delay_times_ms
    from livecheck.reports.hanging import Hanging
    from livecheck.reports.sheet import Sheet
    from livecheck.sources.library import load_lesson, on_instrument

    lesson = load_lesson(args.lesson)
    figures = chosen(lesson, args.figures, args.lesson)
    if args.copedent is not None:
        lesson = on_instrument(lesson, args.copedent)
    show(Sheet(lesson, figures, args.notes))
    times = [f"{name} {ms:.0f}" for name, ms in delay_times_ms(lesson.tempo, lesson.meter).items()]
    show(Hanging(f"delay, in ms: {', '.join(times)}"))
    return CLEAN
