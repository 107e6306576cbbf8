"""`livecheck positions`: every place on the neck where notes or a chord can be played."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING

from livecheck.cli.output import put, put_json
from livecheck.cli.parser import counted
from livecheck.cli.status import CLEAN, FAULTY
from livecheck.errors import Unusable

if TYPE_CHECKING:
    from livecheck.cli.parser import Subparsers
    from livecheck.lesson.copedent import Copedent
    from livecheck.neck.position import Position

DEFAULT_COPEDENT = "e9-ten-string"
MOST_TOLD = 8


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "positions",
        help="tell where notes or a chord can be played",
        usage="livecheck positions NOTES [options]",
        description="Tells every place on the neck where notes or a chord can be played: strings, bar, pedals and "
        "levers, the nearest first, and where one squeeze or one slide leads from there. Movement is counted in frets; "
        "a pedal or lever pressed or let go is one.",
        epilog="Exit status: 0 there are places; 1 there is none; 2 something cannot be used.",
    )
    parser.add_argument(
        "notes",
        metavar="NOTES",
        help='notes such as "C4 E4 A4"; tones on any strings, "C E A"; or a chord, "Am", "C7", "F#maj7", "C/E"',
    )
    parser.add_argument("--copedent", default=DEFAULT_COPEDENT, metavar="NAME|FILE", help="the instrument")
    parser.add_argument(
        "--from", dest="start", metavar="PLACE", help='where hands and feet are: a fret and what is down, "3 A B"'
    )
    parser.add_argument("--strings", metavar="LIST", help='only these strings, "4,5,6"')
    parser.add_argument("--count", type=counted, metavar="N", help="on how many strings a chord is played, 3 at most 4")
    parser.add_argument("--most", type=counted, default=MOST_TOLD, metavar="N", help="how many places to tell of")
    parser.add_argument("--json", action="store_true", help="print all places as JSON")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the places; the exit status."""
    from livecheck.neck.grips import MOST_AT_ONCE, parse_request
    from livecheck.neck.neck import Neck
    from livecheck.neck.survey import survey
    from livecheck.reports.places import places_document, places_text
    from livecheck.sources.library import load_copedent, said_by

    with said_by("--copedent"):
        copedent = load_copedent(args.copedent)
    try:
        request = parse_request(args.notes)
    except ValueError as error:
        raise Unusable(f'{error}; wanted notes such as "C4 E4 A4" or a chord such as "Am" or "F#maj7"') from None
    strings = None if args.strings is None else strings_of(args.strings, copedent)
    usable = len(copedent.strings) if strings is None else len(strings)
    count = request.strings_asked if args.count is None else args.count
    if request.chord is None and count != len(request.midis):
        raise Unusable(f"--count is {count}, but {len(request.midis)} notes are given; wanted it for chords only")
    if count > (usable if request.chord is None else min(usable, MOST_AT_ONCE)):
        raise Unusable(f"{count} notes at once; wanted no more than {min(usable, MOST_AT_ONCE)} on these strings")
    start = None if args.start is None else _place(args.start, copedent)
    neck = Neck(copedent)
    places = survey(neck, request, count, start, strings)
    if args.json:
        import json

        put_json(json.dumps(places_document(request, neck, places), ensure_ascii=False, indent=1) + "\n")
    elif places:
        put(places_text(request, neck, places, args.most, start))
    else:
        put(f"{request.text}: there is no place for it on {copedent.name}\n")
    return CLEAN if places else FAULTY


def strings_of(text: str, copedent: Copedent) -> tuple[int, ...]:
    """The strings of `--strings`, in the order given."""
    last = len(copedent.strings)
    words = text.replace(",", " ").split()
    strings = [int(word) for word in words if word.isdecimal() and 1 <= int(word) <= last]
    if not words or len(strings) != len(words) or len(set(strings)) != len(strings):
        raise Unusable(f'--strings is "{text}"; wanted different strings from 1 to {last}, such as "4,5,6"')
    return tuple(strings)


def _place(text: str, copedent: Copedent) -> Position:
    """The position of `--from`; which strings were played there does not matter."""
    from livecheck.lesson.figure import Bar
    from livecheck.neck.neck import HIGHEST_FRET
    from livecheck.neck.position import Position
    from livecheck.neck.reach import Hold

    fret, *names = text.replace(",", " ").split() or [""]
    if not fret.isdecimal() or int(fret) > HIGHEST_FRET:
        raise Unusable(f'--from is "{text}"; wanted a fret from 0 to {HIGHEST_FRET} and what is down, such as "3 A B"')
    unknown = [name for name in names if name not in copedent.changes]
    if unknown:
        raise Unusable(f'--from names "{unknown[0]}"; the copedent has {_listed(list(copedent.changes))}')
    return Position((1,), Bar.straight(float(fret)), Hold.full(*(c for c in copedent.changes if c in names)))


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names) or "no pedals or levers"
