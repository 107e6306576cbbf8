"""`livecheck grade`: takes against a lesson."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from livecheck.cli.kept import KeepFolder, keep
from livecheck.cli.output import one_line, put, put_json, say, show
from livecheck.cli.parser import counted, finite
from livecheck.cli.progress import Progress
from livecheck.cli.status import CLEAN, FAULTY, UNUSABLE
from livecheck.cli.terms import add_terms, terms_of
from livecheck.cli.written import check_outputs, write_new
from livecheck.errors import Unusable

if TYPE_CHECKING:
    from livecheck.cli.parser import Subparsers
    from livecheck.reports.played import PlayedTake

CLASS_LONGEST_MIN = 30.0
"""Of takes that others send, and of those on a page, which holds their sound; a lesson takes a few minutes."""


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "grade",
        help="compare takes with a lesson",
        usage="livecheck grade LESSON TAKE [TAKE ...] [options]\n"
        "       livecheck grade [LESSON | --lessons FOLDER] TAKE|FOLDER [...] --out FOLDER [options]",
        description="Compares takes with a lesson and says what was wrong; with --out a whole class at once.",
        epilog="Exit status: 0 all found and clean; 1 faults, extras, a figure not found; 2 something cannot be used.",
    )
    parser.add_argument(
        "paths",
        nargs="*",
        action="extend",
        default=[],
        metavar="LESSON TAKE ...",
        help="a lesson file, then audio or MIDI files; with --out folders of them too",
    )
    add_terms(parser)
    parser.add_argument("--page", metavar="FILE", help="write a page to open in a browser, with pictures and sound")
    parser.add_argument("--beside", action="store_true", help="two takes beside each other, here and on the page")
    parser.add_argument("--jams", metavar="FILE", help="write what was asked, heard and wrong as JAMS annotations")
    parser.add_argument("--midi", metavar="FILE", help="write what was heard as a MIDI file with bends")
    parser.add_argument(
        "--keep", nargs="?", action=KeepFolder, metavar="FOLDER", help="keep the verdicts, for livecheck history"
    )
    parser.add_argument("--out", metavar="FOLDER", help="grade a class: results, table, overview and pages come there")
    parser.add_argument("--lessons", metavar="FOLDER", help="with --out: lessons, of which each take is one")
    parser.add_argument("--jobs", type=counted, metavar="N", help="with --out: how many takes at a time (all cores)")
    parser.add_argument("--cluster", metavar="ADDRESS", help="with --out: on a Dask cluster, tcp://HOST:PORT")
    parser.add_argument("--no-pages", action="store_true", help="with --out: no pages of students")
    parser.add_argument(
        "--longest",
        dest="longest_min",
        type=finite,
        metavar="MIN",
        help=f"refuse takes that are longer, in minutes ({CLASS_LONGEST_MIN:g} with --out or --page, else 180)",
    )
    parser.add_argument("--overwrite", action="store_true", help="write over files that are there")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Grade the takes; the exit status."""
    if args.longest_min is not None and args.longest_min <= 0.0:
        raise Unusable(f"--longest is {args.longest_min:g} minutes; wanted more than 0")
    if args.out is not None:
        from livecheck.cli.grade_class import run_class

        return run_class(args)
    given = {"--lessons": args.lessons, "--jobs": args.jobs, "--cluster": args.cluster}
    alone = [*(option for option, value in given.items() if value is not None), *["--no-pages"] * args.no_pages]
    if alone:
        raise Unusable(f"{alone[0]} belongs to --out FOLDER; wanted both or neither")
    if len(args.paths) < 2:
        missing = "a take is" if args.paths else "a lesson and a take are"
        raise Unusable(f"{missing} missing; wanted livecheck grade LESSON TAKE, files both")
    path, *takes = args.paths
    return _Report(args, path).on(takes)


def longest_s(args: argparse.Namespace) -> float:
    """How long a take may be: what is made for others, or comes from them, is shorter than what one has to oneself."""
    from livecheck.sources.audio_file import LONGEST_S

    if args.longest_min is not None:
        return float(args.longest_min) * 60.0
    return LONGEST_S if args.out is None and args.page is None else CLASS_LONGEST_MIN * 60.0


class _Report:
    """Grades takes one after the other, prints what there is to say and writes what was asked for."""

    def __init__(self, args: argparse.Namespace, lesson_path: str) -> None:
        from livecheck.grading.take import Asked

        self._args = args
        self._lesson_path = lesson_path
        terms = terms_of(args, lesson_path)
        self._lesson = terms.brief.lesson
        self._asked = Asked(terms.brief, terms.midi_input, args.channel, longest_s(args))
        self._unkept: Unusable | None = None
        """Told in the end: what was graded is there to be read, kept or not."""

    def on(self, takes: Sequence[str]) -> int:
        """Grade takes in the order given; the highest of their exit statuses."""
        self._check_files(takes)
        outcomes: list[PlayedTake | Unusable] = []
        for take in takes:
            try:
                outcomes.append(self._played(take))
            except Unusable as error:
                if len(takes) == 1:
                    raise
                outcomes.append(error)
            if not self._args.json and not self._args.beside:
                self._show(take, outcomes[-1])
        if self._args.json:
            self._print(takes, outcomes)
        elif self._args.beside:
            self._show_beside(outcomes)
        elif len(takes) > 1:
            self._sum_up(outcomes)
        self._write(takes, outcomes)
        if self._unkept is not None:
            raise self._unkept
        return max(_status(outcome) for outcome in outcomes)

    def _check_files(self, takes: Sequence[str]) -> None:
        """Refuse what cannot be written before anything takes time."""
        args = self._args
        if args.beside and len(takes) != 2:
            raise Unusable(
                f"--beside is for two takes; wanted two, there {'is' if len(takes) == 1 else 'are'} {len(takes)}"
            )
        named = {"--page": args.page, "--jams": args.jams, "--midi": args.midi}
        outputs = {option: path for option, path in named.items() if path is not None}
        for option in outputs:
            if option != "--page" and len(takes) > 1:
                raise Unusable(f"{option} is for one take; wanted one, there are {len(takes)}")
        check_outputs(outputs, [self._lesson_path, *takes], args.overwrite)

    def _played(self, take: str) -> PlayedTake:
        from livecheck.grading.forks import Forks
        from livecheck.grading.take import play

        played = play(take, _name(take), self._asked, Progress, Forks())
        for remark in played.remarks:
            say(f"{take}: {remark}")
        if self._args.keep is not None:
            try:
                keep(Path(self._args.keep), take, played.verdict)
            except Unusable as error:
                self._unkept = error
        return played

    def _show(self, take: str, outcome: PlayedTake | Unusable) -> None:
        from livecheck.reports.console import render, render_unusable

        if isinstance(outcome, Unusable):
            show(render_unusable(_name(take), str(outcome).removeprefix(f"{take}: ")))
        else:
            show(render(outcome.verdict, self._lesson))

    def _show_beside(self, outcomes: Sequence[PlayedTake | Unusable]) -> None:
        from livecheck.reports.beside import render_beside

        first, second = self._both(outcomes)
        show(render_beside(first.verdict, second.verdict, self._lesson))

    @staticmethod
    def _both(outcomes: Sequence[PlayedTake | Unusable]) -> tuple[PlayedTake, PlayedTake]:
        for outcome in outcomes:
            if isinstance(outcome, Unusable):
                raise outcome
        first, second = (outcome for outcome in outcomes if not isinstance(outcome, Unusable))
        return first, second

    def _sum_up(self, outcomes: Sequence[PlayedTake | Unusable]) -> None:
        from livecheck.reports.console import render_summary

        verdicts = [outcome.verdict for outcome in outcomes if not isinstance(outcome, Unusable)]
        show(render_summary(verdicts, self._lesson, len(outcomes) - len(verdicts)))

    def _print(self, takes: Sequence[str], outcomes: Sequence[PlayedTake | Unusable]) -> None:
        from livecheck.reports.document import document_of, error_of, text_of

        documents = []
        for take, outcome in zip(takes, outcomes, strict=True):
            if isinstance(outcome, Unusable):
                say(str(outcome))
                documents.append(error_of(_name(take), one_line(str(outcome))))
            else:
                documents.append(document_of(outcome.verdict))
        put_json(text_of(documents))

    def _write(self, takes: Sequence[str], outcomes: Sequence[PlayedTake | Unusable]) -> None:
        """What was asked for as files."""
        args = self._args
        graded = [
            (played, os.path.basename(_name(take)))
            for take, played in zip(takes, outcomes, strict=True)
            if not isinstance(played, Unusable)
        ]
        if args.page is not None and graded:
            self._save("--page", args.page, self._page(graded).encode("utf-8", "replace"))
        if args.jams is not None:
            from livecheck.sharing.jams_file import jams_of

            self._save("--jams", args.jams, jams_of(*graded[0]).encode())
        if args.midi is not None:
            from livecheck.sharing.bend_midi import midi_of

            self._save("--midi", args.midi, midi_of(graded[0][0]))

    def _page(self, graded: Sequence[tuple[PlayedTake, str]]) -> str:
        from livecheck.pages.beside import beside_page
        from livecheck.pages.take import take_section, takes_page
        from livecheck.reports.wording import plain

        title = plain(self._lesson.title) or "Takes"
        if self._args.beside:
            (first, first_name), (second, second_name) = graded
            return beside_page(title, (first, second), (first_name, second_name))
        sections = [take_section(played, f"t{at}", name) for at, (played, name) in enumerate(graded, start=1)]
        return takes_page(title, sections)

    def _save(self, option: str, path: str, data: bytes) -> None:
        write_new(option, path, data, self._args.overwrite)
        if not self._args.json:
            put(f"\nWritten: {one_line(path)}\n")


def _status(outcome: PlayedTake | Unusable) -> int:
    if isinstance(outcome, Unusable):
        return UNUSABLE
    return CLEAN if outcome.verdict.clean else FAULTY


def _name(take: str) -> str:
    """The take as the caller named it; bytes that are no text are replaced."""
    return os.fsencode(take).decode("utf-8", "replace")
