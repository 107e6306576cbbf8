"""`livecheck demo`: the bundled take against the bundled lesson; no instrument, no network."""

from __future__ import annotations

import argparse
import shlex
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from livecheck.cli.output import put, put_json, show
from livecheck.cli.progress import Progress
from livecheck.cli.status import CLEAN, FAULTY

if TYPE_CHECKING:
    from livecheck.cli.parser import Subparsers
    from livecheck.judging.verdict import TakeVerdict
    from livecheck.lesson.figure import Lesson

LESSON, TAKE = "lesson.toml", "take.ogg"


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "demo",
        help="grade a take with known mistakes that comes along",
        usage="livecheck demo [options]",
        description="Grades a take that comes along, with a lesson of five figures, and says whether the mistakes "
        "that were planted in it were found. Nothing is played aloud.",
        epilog="Exit status: 0 the planted mistakes were found and nothing else; 1 otherwise.",
    )
    parser.add_argument("--json", action="store_true", help="print the report as JSON")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Grade the bundled take; the exit status."""
    from livecheck.demo.planted import compared, path_of
    from livecheck.reports.console import render
    from livecheck.reports.document import document_of, text_of
    from livecheck.reports.hanging import Hanging
    from livecheck.sources.library import load_lesson

    lesson = load_lesson(str(path_of(LESSON)))
    verdict = _graded(lesson, path_of(LESSON), path_of(TAKE))
    document = document_of(verdict)
    outcome = compared(document)
    if args.json:
        put_json(text_of([document]))
    else:
        show(render(verdict, lesson))
        path = _short(path_of(LESSON))
        put(f"\nThe lesson: {path}\nThe take: {_short(path_of(TAKE))}\n")
        put(f"To see the lesson: {shlex.quote(_called())} show {shlex.quote(path)}\n")
        show(Hanging(outcome.sentence))
    return CLEAN if outcome.is_exact else FAULTY


def _graded(lesson: Lesson, lesson_path: Path, take_path: Path) -> TakeVerdict:
    from livecheck.engine import AudioEngine, Brief
    from livecheck.sources.audio_file import open_audio
    from livecheck.sources.library import lesson_tolerances

    audio = open_audio(str(take_path))
    engine = AudioEngine(Brief(lesson, lesson.figures, lesson_tolerances(lesson, str(lesson_path))), audio.rate_hz)
    heard = 0
    with Progress(TAKE, audio.duration_s) as progress:
        for block in audio.blocks:
            engine.feed(block)
            heard += len(block)
            progress.at(heard / audio.rate_hz)
        progress.judging()
        return engine.finish(TAKE)


def _called() -> str:
    """What to type for livecheck here: its name where the shell finds it, else its path as it was called."""
    called = Path(sys.argv[0])
    return _short(called) if called.stem == "livecheck" and shutil.which("livecheck") is None else "livecheck"


def _short(path: Path) -> str:
    """A path as short as it can be typed here."""
    try:
        return str(path.relative_to(Path.cwd()))
    except (OSError, ValueError):
        return str(path)
