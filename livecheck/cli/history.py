"""`livecheck history`: what was kept of playing a lesson, over days."""

from __future__ import annotations

import argparse
import sqlite3
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from livecheck.cli.figures import chosen
from livecheck.cli.output import put, show
from livecheck.cli.status import CLEAN
from livecheck.cli.terms import add_figures
from livecheck.errors import Unusable

if TYPE_CHECKING:
    from rich.console import RenderableType

    from livecheck.cli.parser import Subparsers
    from livecheck.keeping.attempt import Attempt
    from livecheck.keeping.trend import Day, Flaw

MOST_FLAWS = 3
"""Of each kind, for each figure: more is not worked on at once."""


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "history",
        help="tell what got better and what stays wrong over days",
        usage="livecheck history LESSON [options]",
        description="Tells of all attempts at a lesson that were kept while playing live: day by day, what gets "
        "better, what stays wrong.",
        epilog="Exit status: 0 there is something to tell; 2 there is nothing, or it cannot be used.",
    )
    parser.add_argument("paths", nargs="*", action="extend", default=[], metavar="LESSON", help="a lesson file")
    add_figures(parser)
    parser.add_argument("--keep", metavar="FOLDER", help="where takes and verdicts were kept")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the history; the exit status."""
    from livecheck.reports.wording import counted, plain
    from livecheck.sources.library import load_lesson

    if len(args.paths) != 1:
        raise Unusable("a lesson is missing, or there is more than one; wanted livecheck history LESSON")
    (path,) = args.paths
    lesson = load_lesson(path)
    figures = [figure.name for figure in chosen(lesson, args.figures, path)]
    attempts = [attempt for attempt in _kept(args.keep, lesson.title, path) if attempt.figure in figures]
    days = {attempt.began.astimezone().date() for attempt in attempts}
    put(f"\n{plain(lesson.title)}: {counted(len(attempts), 'attempt')} on {counted(len(days), 'day')}\n")
    for name in figures:
        tried = [attempt for attempt in attempts if attempt.figure == name]
        for line in _figure(name, tried):
            show(line)
    return CLEAN


def _kept(given: str | None, title: str, path: str) -> list[Attempt]:
    from livecheck.keeping.folder import NOTEBOOK, default_folder
    from livecheck.keeping.notebook import Notebook

    folder = default_folder() if given is None else Path(given)
    attempts: list[Attempt] = []
    if (folder / NOTEBOOK).is_file():
        try:
            notebook = Notebook(folder / NOTEBOOK)
            attempts = notebook.attempts(title)
            notebook.close()
        except sqlite3.Error as error:
            raise Unusable(f"{folder / NOTEBOOK}: cannot be read ({error}); wanted what livecheck has kept") from None
    if not attempts:
        raise Unusable(
            f'{folder}: nothing is kept of "{title}"; wanted attempts, play some with livecheck listen {path}'
        )
    return attempts


def _figure(name: str, attempts: Sequence[Attempt]) -> Iterator[RenderableType]:
    from rich.text import Text

    from livecheck.keeping.trend import trend_of
    from livecheck.reports.hanging import Hanging
    from livecheck.reports.wording import counted, plain

    trend = trend_of(attempts)
    yield Text()
    yield Hanging(f"Figure {plain(name)}{'' if attempts else ': not tried yet'}", style="bold")
    if trend.days:
        yield Hanging("  day          tries   clean   time off   pitch off")
        yield from (Hanging(_day(day)) for day in trend.days)
    broken = sum(attempt.gaps > 0 for attempt in attempts)
    if broken:
        yield Hanging(f"{counted(broken, 'attempt')} with a gap in the sound left out", "  ")
    for lead, flaws in (
        ("  better       ", [flaw for flaw in trend.flaws if flaw.is_better]),
        ("  still wrong  ", [flaw for flaw in trend.flaws if flaw.is_wrong_still and not flaw.is_better]),
    ):
        yield from (Hanging(_flaw(flaw), lead) for flaw in flaws[:MOST_FLAWS])


def _day(day: Day) -> str:
    time = "" if day.time_off_ms is None else f"{day.time_off_ms:.0f} ms"
    pitch = "" if day.pitch_off_cents is None else f"{day.pitch_off_cents:.0f} cents"
    return f"  {day.date.isoformat()}   {day.attempts:5}   {day.clean:5}   {time:>8}   {pitch:>9}".rstrip()


def _flaw(flaw: Flaw) -> str:
    from livecheck.reports.wording import numbered, plain

    where = [] if flaw.step is None else [f"step {flaw.step}"]
    where += [numbered("string", flaw.strings)] if flaw.strings else []
    before = f", {flaw.before} of {flaw.before_of} before" if flaw.before_of else ""
    told = f"{plain(flaw.what)} ({flaw.now} of the last {flaw.now_of}{before})"
    return f"{', '.join(where)}: {told}" if where else told
