"""On what terms a call has playing judged: the options that all commands share which judge any."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from livecheck.cli.figures import chosen
from livecheck.cli.parser import counted, finite
from livecheck.errors import Unusable

if TYPE_CHECKING:
    from livecheck.cli.parser import Parser
    from livecheck.engine import Brief
    from livecheck.hearing.midi.input import MidiInput
    from livecheck.lesson.figure import Lesson


@dataclass(frozen=True)
class Terms:
    brief: Brief
    midi_input: MidiInput


def add_figures(parser: Parser) -> None:
    """Declare the option that names figures; for parsers that take files as `paths`."""
    parser.add_argument(
        "--figure",
        dest="figures",
        nargs="+",
        action=_Figures,
        default=[],
        metavar="NAME",
        help="only these figures of the lesson",
    )


def add_terms(parser: Parser) -> None:
    """Declare the options."""
    add_figures(parser)
    parser.add_argument(
        "--timing",
        choices=("free", "click", "backing"),
        default="free",
        help="free: the tempo is the player's own; click: the lesson's, on one grid for the whole take; backing: as "
        "the figures lie in the lesson's backing",
    )
    parser.add_argument(
        "--start",
        dest="start_s",
        type=finite,
        metavar="S",
        help="when the click has a beat, or the backing begins, in seconds",
    )
    parser.add_argument(
        "--copedent", metavar="FILE", help="your own instrument: the lesson's strings and changes, its cents"
    )
    parser.add_argument(
        "--tolerances", metavar="NAME|FILE", help="strict, standard, relaxed or a file, instead of the lesson's"
    )
    parser.add_argument(
        "--input", default="channel-per-string", metavar="NAME", help="how the MIDI instrument speaks: a name or a file"
    )
    parser.add_argument("--channel", type=counted, metavar="N", help="the only channel of the sound to hear, from 1")
    parser.add_argument("--json", action="store_true", help="print the report as JSON")


def terms_of(args: argparse.Namespace, path: str) -> Terms:
    """The terms of a call with the lesson at `path`."""
    from livecheck.engine import Brief
    from livecheck.sources.backing import backing_path
    from livecheck.sources.library import (
        lesson_tolerances,
        load_input,
        load_lesson,
        load_tolerances,
        on_instrument,
        said_by,
    )

    if args.start_s is not None and args.timing == "free":
        raise Unusable("--start belongs to --timing click or backing; wanted both or neither")
    lesson = load_lesson(path)
    figures = chosen(lesson, args.figures, path)
    if args.timing == "backing":
        backing_path(lesson, path)
    if args.tolerances is None:
        tolerances = lesson_tolerances(lesson, path)
    else:
        with said_by("--tolerances"):
            tolerances = load_tolerances(args.tolerances)
    if args.copedent is None:
        lesson = _as_measured(lesson, getattr(args, "keep", None))
    else:
        with said_by("--copedent"):
            lesson = on_instrument(lesson, args.copedent)
    with said_by("--input"):
        midi_input = load_input(args.input).for_strings(len(lesson.copedent.strings))
    brief = Brief(lesson, figures, tolerances, "free" if args.timing == "free" else "click", args.start_s)
    return Terms(begun(brief, args.start_s) if args.timing == "backing" else brief, midi_input)


def begun(brief: Brief, begins_s: float | None) -> Brief:
    """A brief for what is played with the lesson's backing, which begins at a moment of the take, if that is known."""
    begins = () if begins_s is None else tuple(begins_s + (figure.backing_s or 0.0) for figure in brief.figures)
    return replace(brief, timing="click", start_s=None, begins_s=begins)


def _as_measured(lesson: Lesson, keep: str | None) -> Lesson:
    """The lesson on the player's own instrument, if that has been measured."""
    from livecheck.keeping.folder import default_folder
    from livecheck.keeping.instrument import instrument_path
    from livecheck.sources.library import on_measured_instrument

    path = instrument_path(default_folder() if keep is None else Path(keep), lesson.copedent_name)
    return on_measured_instrument(lesson, path) if path.is_file() else lesson


class _Figures(argparse.Action):
    """`--figure NAME ...`: where it stands before the lesson or the takes, the names end where these begin."""

    def __call__(self, *given: Any, **_: Any) -> None:
        """What argparse gives: the parser, the namespace, the values, the option as it was written."""
        _, namespace, values, _ = given
        cut = self._files_from(values, len(namespace.paths))
        namespace.paths = [*namespace.paths, *values[cut:]]
        namespace.figures = [*namespace.figures, *values[:cut]]

    @staticmethod
    def _files_from(values: Sequence[str], paths: int) -> int:
        """Index of the first value that is a file and no figure's name; the first value is always a name."""
        later = range(1, len(values) if paths < 2 else 0)
        lessons = [i for i in later if paths == 0 and values[i].endswith(".toml")]
        there = [i for i in later if os.path.exists(values[i])]
        return [*lessons, *there, len(values)][0]
