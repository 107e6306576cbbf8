"""`livecheck write`: a lesson in the formats of other software."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from livecheck.cli.figures import asked_for
from livecheck.cli.output import put
from livecheck.cli.parser import finite
from livecheck.cli.status import CLEAN
from livecheck.cli.written import check_outputs, write_new
from livecheck.errors import Unusable

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from livecheck.cli.parser import Subparsers
    from livecheck.lesson.figure import Figure, Lesson

    Writer = Callable[[Lesson, tuple[Figure, ...]], bytes]

FORMATS = ("musicxml", "tab", "midi")


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "write",
        help="write a lesson as MusicXML, tab or MIDI",
        usage="livecheck write LESSON --musicxml FILE --tab FILE --midi FILE [options]",
        description="Writes a lesson for other software and for print, in one format or several: MusicXML with "
        "strings, frets and slides; tab in plain text; a MIDI file with bends, string n on channel n.",
    )
    parser.add_argument("lesson", metavar="LESSON", help="a lesson file")
    parser.add_argument("--musicxml", metavar="FILE", help="notation software reads this")
    parser.add_argument("--tab", metavar="FILE", help="plain text, a row for each string")
    parser.add_argument("--midi", metavar="FILE", help="bends follow bar and pedals; the range is told by RPN 0")
    parser.add_argument(
        "--figure", dest="figures", nargs="+", action="extend", default=[], metavar="NAME", help="only these figures"
    )
    parser.add_argument("--tempo", type=finite, metavar="BPM", help="beats a minute, instead of the lesson's")
    parser.add_argument(
        "--copedent", metavar="FILE", help="your own instrument: the lesson's strings and changes, its cents"
    )
    parser.add_argument("--overwrite", action="store_true", help="write over files that are there")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the files; the exit status."""
    wanted = {name: getattr(args, name) for name in FORMATS if getattr(args, name) is not None}
    if not wanted:
        raise Unusable("no format is asked for; wanted --musicxml, --tab or --midi, each with a file")
    check_outputs({f"--{name}": path for name, path in wanted.items()}, [args.lesson], args.overwrite)
    lesson, figures = asked_for(args.lesson, args.figures, args.copedent, args.tempo)
    for name, path in wanted.items():
        write_new(f"--{name}", path, _writers()[name](lesson, figures), args.overwrite)
        put(f"Written: {path}\n")
    return CLEAN


def _writers() -> Mapping[str, Writer]:
    from livecheck.sharing.bend_midi import lesson_midi
    from livecheck.sharing.musicxml import musicxml
    from livecheck.sharing.tab_rows import tab_rows

    return {
        "musicxml": musicxml,
        "tab": lambda lesson, figures: tab_rows(lesson, figures).encode("ascii"),
        "midi": lesson_midi,
    }
