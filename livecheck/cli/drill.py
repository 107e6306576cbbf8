"""`livecheck drill`: exercises written as lessons."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING

from livecheck.cli.named import copedent_named
from livecheck.cli.output import put
from livecheck.cli.parser import counted, finite
from livecheck.cli.positions import DEFAULT_COPEDENT, strings_of
from livecheck.cli.status import CLEAN
from livecheck.cli.written import check_outputs, write_new
from livecheck.errors import Unusable

if TYPE_CHECKING:
    from livecheck.cli.parser import Subparsers
    from livecheck.lesson.figure import Figure, Lesson

KINDS = {
    "scale": "up and down",
    "thirds": "in thirds",
    "sixths": "in sixths",
    "grips": "in three-note grips",
    "inversions": "chords I, IV and V up the neck",
}
"""Exercises on a scale, and what stands behind its name in the title."""
LICK = "lick"
STRINGS = {"scale": 1, "thirds": 2, "sixths": 2, "grips": 3, "inversions": 3}
"""How many strings an exercise needs at least."""
MOST_OCTAVES = 3
DEFAULT_TEMPO = 60.0
DEFAULT_BY = "0,5,7"
FURTHEST = 24
OUT = "--out"


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    from livecheck.neck.scale import SCALES

    parser = subparsers.add_parser(
        "drill",
        help="write an exercise as a lesson",
        usage=f"livecheck drill {{{','.join(KINDS)}}} --key KEY [options]\n"
        "       livecheck drill lick LESSON [options]",
        description="Writes an exercise as a lesson file, to show, practise and grade like any other: a scale; a scale "
        "in thirds, sixths or three-note grips; the inversions of I, IV and V up the neck; or a figure of a lesson in "
        "other keys and places.",
    )
    parser.add_argument("kind", choices=(*KINDS, LICK), metavar="KIND", help=", ".join((*KINDS, LICK)))
    parser.add_argument("lesson", nargs="?", metavar="LESSON", help="for a lick: the lesson that has it")
    parser.add_argument("--key", metavar="KEY", help='the tonic, such as "G" or "Bb"')
    parser.add_argument("--scale", choices=tuple(SCALES), default="major", metavar="NAME", help=", ".join(SCALES))
    parser.add_argument("--octaves", type=counted, default=1, metavar="N", help="of a scale, from 1 to 3")
    parser.add_argument("--strings", metavar="LIST", help='only these strings, "5,6"')
    parser.add_argument("--copedent", metavar="NAME|FILE", help="the instrument")
    parser.add_argument("--tempo", type=finite, metavar="BPM", help="beats a minute, 60 if left out")
    parser.add_argument("--figure", metavar="NAME", help="for a lick: which figure, the first if left out")
    parser.add_argument(
        "--by",
        default=DEFAULT_BY,
        metavar="LIST",
        help=f'for a lick: semitones up, or down, "{DEFAULT_BY}" if left out',
    )
    parser.add_argument("--ways", type=counted, default=2, metavar="N", help="for a lick: ways in each key (2)")
    parser.add_argument(OUT, metavar="FILE", help="the file to write, instead of one named after the exercise")
    parser.add_argument("--overwrite", action="store_true", help="write over a file that is there")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the lesson; the exit status."""
    from livecheck.lesson.writing import lesson_text
    from livecheck.reports.exercise import exercise_text

    out = args.out if args.out is not None else _name(args)
    check_outputs({OUT: out}, [args.lesson] if args.lesson else [], args.overwrite)
    lesson = _lick(args, out) if args.kind == LICK else _exercise(args, out)
    text = lesson_text(lesson, "Written by livecheck drill.")
    write_new(OUT, out, text.encode(), args.overwrite)
    put(exercise_text(lesson.title, lesson.figures) + f"Written: {out}\n")
    return CLEAN


def _name(args: argparse.Namespace) -> str:
    """The file that is written where none is named."""
    if args.kind == LICK:
        words = ["lick", args.figure or Path(args.lesson or "").stem]
    else:
        words = [args.kind, (args.key or "").replace("#", "-sharp"), args.scale]
    return f"drill-{'-'.join(re.sub(r'[^A-Za-z0-9]+', '-', word).strip('-') for word in words)}.toml"


def _exercise(args: argparse.Namespace, out: str) -> Lesson:
    from livecheck.lesson.figure import Lesson
    from livecheck.neck import drill
    from livecheck.neck.neck import Neck
    from livecheck.neck.scale import Scale
    from livecheck.sources.library import load_copedent, said_by

    if args.lesson is not None:
        raise Unusable(f'"{args.lesson}" is given besides {args.kind}; wanted a lesson for a lick only')
    if args.key is None or re.fullmatch(r"[A-Ga-g][#b]?", args.key) is None:
        raise Unusable(f"--key is {_shown(args.key)}; wanted the tonic, such as G, F# or Bb")
    if args.octaves > MOST_OCTAVES:
        raise Unusable(f"--octaves is {args.octaves}; wanted 1 to {MOST_OCTAVES}")
    named = DEFAULT_COPEDENT if args.copedent is None else args.copedent
    with said_by("--copedent"):
        copedent = load_copedent(named)
    strings = None if args.strings is None else strings_of(args.strings, copedent)
    if strings is not None and len(strings) < STRINGS[args.kind]:
        raise Unusable(f"--strings names {len(strings)}; wanted {STRINGS[args.kind]} or more for {args.kind}")
    scale = Scale(args.key[0].upper() + args.key[1:], args.scale)
    if args.kind != "scale" and not scale.has_chords:
        raise Unusable(f"--scale is {args.scale}, which has {len(scale.tones)} tones; wanted one of seven")
    neck = Neck(copedent)
    try:
        if args.kind == "scale":
            figures = drill.scale_figures(neck, scale, args.octaves, strings)
        else:
            makers = {
                "thirds": drill.thirds_figures,
                "sixths": drill.sixths_figures,
                "grips": drill.grips_figures,
                "inversions": drill.inversions_figures,
            }
            figures = makers[args.kind](neck, scale, strings)
    except drill.Unplayable as error:
        on = "" if strings is None else f" on strings {', '.join(map(str, strings))}"
        raise Unusable(f"{copedent.name} cannot play {error}{on}; wanted other strings or another exercise") from None
    title = f"{scale.name} {KINDS[args.kind]}"
    return Lesson(title, _tempo(args, DEFAULT_TEMPO), "4/4", copedent, copedent_named(named, Path(), out), figures)


def _lick(args: argparse.Namespace, out: str) -> Lesson:
    from dataclasses import replace

    from livecheck.sources.library import load_lesson, on_instrument, said_by

    if args.lesson is None:
        raise Unusable("a lesson is missing; wanted livecheck drill lick LESSON")
    lesson = load_lesson(args.lesson)
    if args.copedent is not None:
        with said_by("--copedent"):
            lesson = on_instrument(lesson, args.copedent)
    named = copedent_named(lesson.copedent_name, Path() if args.copedent is not None else Path(args.lesson).parent, out)
    figure = _figure(lesson, args.figure, args.lesson)
    figures = _ways(args, lesson, figure)
    return replace(
        lesson, title=f"{figure.name} elsewhere", tempo=_tempo(args, lesson.tempo), copedent_name=named,
        figures=tuple(replace(way, backing_s=None) for way in figures), tolerances="standard", backing=None,
    )  # fmt: skip


def _ways(args: argparse.Namespace, lesson: Lesson, figure: Figure) -> list[Figure]:
    """The lick in every key, the same hands first, then elsewhere on the neck."""
    from dataclasses import replace
    from itertools import islice

    from livecheck.neck.lick import elsewhere, shifted
    from livecheck.neck.neck import Neck

    halves = any(0.0 < amount < 1.0 for step in figure.steps for amount in step.stance.down.values())
    strings = None if args.strings is None else strings_of(args.strings, lesson.copedent)
    neck = Neck(lesson.copedent, halves)
    figures: list[Figure] = []
    for by in _semitones(args.by):
        same = [shifted(figure, by)] if by else []
        ways = [way for way in same if way is not None]
        ways += islice(elsewhere(figure, neck, by, args.ways, strings), args.ways - len(ways))
        key = f"{abs(by)} {'down' if by < 0 else 'up'}" if by else "same key"
        figures += [replace(way, name=f"{key}, {number}") for number, way in enumerate(ways, start=1)]
    if not figures:
        raise Unusable(f'figure "{figure.name}" can be played nowhere else; wanted another figure, or other --by')
    return figures


def _semitones(text: str) -> list[int]:
    words = text.replace(",", " ").split()
    if not words or not all(re.fullmatch(r"[+-]?\d{1,2}", word) and abs(int(word)) <= FURTHEST for word in words):
        raise Unusable(f'--by is "{text}"; wanted whole semitones within {FURTHEST}, such as "{DEFAULT_BY},-2"')
    return list(dict.fromkeys(map(int, words)))


def _figure(lesson: Lesson, name: str | None, path: str) -> Figure:
    from livecheck.cli.figures import chosen

    return chosen(lesson, [] if name is None else [name], path)[0]


def _tempo(args: argparse.Namespace, usual: float) -> float:
    from livecheck.lesson.reading import FASTEST, SLOWEST

    tempo: float = usual if args.tempo is None else args.tempo
    if not SLOWEST <= tempo <= FASTEST:
        raise Unusable(f"--tempo is {tempo:g}; wanted {SLOWEST:g} to {FASTEST:g} beats a minute")
    return tempo


def _shown(text: str | None) -> str:
    return "missing" if text is None else f'"{text}"'
