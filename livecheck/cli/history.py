"""`livecheck history`: what was kept of playing a lesson, over days."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from livecheck.cli.figures import chosen
from livecheck.cli.output import one_line, put, show
from livecheck.cli.status import CLEAN
from livecheck.cli.terms import add_figures
from livecheck.cli.written import check_outputs, write_new
from livecheck.errors import Unusable

if TYPE_CHECKING:
    from rich.console import RenderableType

    from livecheck.cli.parser import Subparsers
    from livecheck.keeping.attempt import Attempt
    from livecheck.keeping.trend import Day

LEAST_DAYS = 3
"""Fewer make no curve."""
MOST_FLAWS = 3
"""Of each kind, for each figure: more is not worked on at once."""


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "history",
        help="tell what got better and what stays wrong over days",
        usage="livecheck history LESSON [options]",
        description="Tells of all attempts at a lesson that were kept, or of a student's takes in the results of a "
        "class: day by day, what gets better, what stays wrong.",
        epilog="Exit status: 0 there is something to tell; 2 there is nothing, or it cannot be used.",
    )
    parser.add_argument("paths", nargs="*", action="extend", default=[], metavar="LESSON", help="a lesson file")
    add_figures(parser)
    parser.add_argument("--keep", metavar="FOLDER", help="where takes and verdicts were kept")
    parser.add_argument("--results", metavar="FOLDER", help="the results of a class instead, as grade --out wrote them")
    parser.add_argument("--student", metavar="NAME", help="with --results: whose takes")
    parser.add_argument("--page", metavar="FILE", help="write a page to open in a browser, with curves")
    parser.add_argument("--overwrite", action="store_true", help="write over a file that is there")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the history; the exit status."""
    from livecheck.reports.wording import counted, plain
    from livecheck.sources.library import load_lesson

    if len(args.paths) != 1:
        raise Unusable("a lesson is missing, or there is more than one; wanted livecheck history LESSON")
    (path,) = args.paths
    if args.student is not None and args.results is None:
        raise Unusable("--student belongs to --results FOLDER; wanted both or neither")
    if args.page is not None:
        check_outputs({"--page": args.page}, [path], args.overwrite)
    lesson = load_lesson(path)
    figures = [figure.name for figure in chosen(lesson, args.figures, path)]
    attempts = [attempt for attempt in _attempts(args, lesson.title, path) if attempt.figure in figures]
    days = {attempt.began.astimezone().date() for attempt in attempts}
    put(f"\n{plain(lesson.title)}: {counted(len(attempts), 'attempt')} on {counted(len(days), 'day')}\n")
    for name in figures:
        tried = [attempt for attempt in attempts if attempt.figure == name]
        for line in _figure(name, tried):
            show(line)
    if args.page is not None:
        _write_page(args, lesson.title, figures, attempts)
    return CLEAN


def _write_page(args: argparse.Namespace, title: str, figures: Sequence[str], attempts: Sequence[Attempt]) -> None:
    from livecheck.keeping.trend import trend_of
    from livecheck.pages.weeks import weeks_page
    from livecheck.reports.wording import plain

    trends = [(name, trend_of([attempt for attempt in attempts if attempt.figure == name])) for name in figures]
    page = weeks_page(plain(title) or "Over weeks", plain(args.student or ""), trends)
    write_new("--page", args.page, page.encode("utf-8", "replace"), args.overwrite)
    put(f"\nWritten: {one_line(args.page)}\n")


def _attempts(args: argparse.Namespace, title: str, path: str) -> list[Attempt]:
    """What was kept of a lesson, or what the results of a class have of it."""
    return _kept(args.keep, title, path) if args.results is None else _in_class(args.results, args.student, title)


def _in_class(folder: str, student: str | None, title: str) -> list[Attempt]:
    from livecheck.keeping.results import RESULTS, attempts_of, read_results

    try:
        records = [record for record in read_results(Path(folder) / RESULTS) if record.lesson == title]
    except OSError as error:
        raise Unusable(
            f"{folder}: has no results that can be read ({error.strerror}); wanted what livecheck grade --out wrote"
        ) from None
    students = sorted({record.student for record in records})
    if student is None and len(students) > 1:
        raise Unusable(f"{folder}: has takes of {len(students)} students; wanted --student NAME: {', '.join(students)}")
    found = attempts_of([record for record in records if student in (None, record.student)])
    if not found:
        whose = "" if student is None else f" by {student}"
        there = f", there are {', '.join(students)}" if students else ""
        raise Unusable(f'{folder}: has no take of "{title}"{whose}; wanted one{there}')
    return found


def _kept(given: str | None, title: str, path: str) -> list[Attempt]:
    import sqlite3

    import msgspec

    from livecheck.keeping.folder import NOTEBOOK, default_folder
    from livecheck.keeping.notebook import Notebook

    folder = default_folder() if given is None else Path(given)
    attempts: list[Attempt] = []
    if (folder / NOTEBOOK).is_file():
        try:
            with closing(Notebook(folder / NOTEBOOK)) as notebook:
                attempts = notebook.attempts(title)
            for attempt in attempts:
                attempt.check()
        except (sqlite3.Error, msgspec.MsgspecError, ValueError) as error:
            raise Unusable(f"{folder / NOTEBOOK}: cannot be read ({error}); wanted what livecheck has kept") from None
    if not attempts:
        raise Unusable(
            f'{folder}: nothing is kept of "{title}"; wanted attempts, play some with livecheck listen {path}'
        )
    return attempts


def _figure(name: str, attempts: Sequence[Attempt]) -> Iterator[RenderableType]:
    from rich.text import Text

    from livecheck.keeping.trend import trend_of
    from livecheck.pages.weeks import flaw_text
    from livecheck.reports.hanging import Hanging
    from livecheck.reports.wording import counted, plain

    trend = trend_of(attempts)
    yield Text()
    yield Hanging(f"Figure {plain(name)}{'' if attempts else ': not tried yet'}", style="bold")
    if trend.days:
        yield Hanging("  day          tries   clean   time off   pitch off")
        yield from (Hanging(_day(day)) for day in trend.days)
        if len(trend.days) >= LEAST_DAYS:
            yield from _curves(trend.days)
    broken = sum(attempt.gaps > 0 for attempt in attempts)
    if broken:
        yield Hanging(f"{counted(broken, 'attempt')} with a gap in the sound left out", "  ")
    for lead, flaws in (
        ("  better       ", [flaw for flaw in trend.flaws if flaw.is_better]),
        ("  still wrong  ", [flaw for flaw in trend.flaws if flaw.is_wrong_still and not flaw.is_better]),
    ):
        yield from (Hanging(flaw_text(flaw), lead) for flaw in flaws[:MOST_FLAWS])


def _curves(days: Sequence[Day]) -> Iterator[RenderableType]:
    """The days as curves, where there are enough of them."""
    from livecheck.reports.curve import Curve

    for label, unit, values in (
        ("  time off   ", " ms", [day.time_off_ms for day in days]),
        ("  pitch off  ", " cents", [day.pitch_off_cents for day in days]),
        ("  clean      ", " %", [100.0 * day.clean / day.attempts for day in days]),
    ):
        known = [value for value in values if value is not None]
        if known:
            yield Curve(label, values, f"from {known[0]:.0f} to {known[-1]:.0f}{unit}")


def _day(day: Day) -> str:
    time = "" if day.time_off_ms is None else f"{day.time_off_ms:.0f} ms"
    pitch = "" if day.pitch_off_cents is None else f"{day.pitch_off_cents:.0f} cents"
    return f"  {day.date.isoformat()}   {day.attempts:5}   {day.clean:5}   {time:>8}   {pitch:>9}".rstrip()
