"""`livecheck listen`: a lesson against what is being played."""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from livecheck.cli.output import put, put_json, say, show
from livecheck.cli.parser import counted, finite
from livecheck.cli.status import CLEAN, FAULTY
from livecheck.cli.terms import Terms, add_terms, terms_of
from livecheck.errors import Unusable

BACKING_S = 1.0
"""From when a backing is ready to when it is played, to have it there in time."""

if TYPE_CHECKING:
    from livecheck.cli.live_audio import LiveAudio
    from livecheck.cli.live_midi import LiveMidi
    from livecheck.cli.parser import Subparsers
    from livecheck.engine import Brief
    from livecheck.judging.verdict import TakeVerdict
    from livecheck.keeping.keeper import Keeper
    from livecheck.sources.driver_message import Opened, Wanted
    from livecheck.sources.live_input import LiveInput


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "listen",
        help="compare what is being played with a lesson",
        usage="livecheck listen LESSON [--device NAME | --port NAME] [options]",
        description="Listens while you play, to an audio input or a MIDI instrument, and says what was wrong. The "
        "take is kept as it is played. Begin when you like; Ctrl-C ends the take.",
        epilog="Exit status: 0 all found and clean; 1 faults, extras, a figure not found; 2 something cannot be used.",
    )
    parser.add_argument("paths", nargs="*", action="extend", default=[], metavar="LESSON", help="a lesson file")
    inputs = parser.add_mutually_exclusive_group()
    inputs.add_argument(
        "--device", metavar="NAME", help="the audio input: its name as `livecheck devices` tells it, or a part of it"
    )
    inputs.add_argument(
        "--port",
        metavar="NAME",
        help='a MIDI input instead: its name, a part of it, or "own" for a port that other programs connect to',
    )
    parser.add_argument("--rate", dest="rate_hz", type=counted, metavar="HZ", help="the device's sample rate")
    parser.add_argument(
        "--end-after", dest="end_after_s", type=finite, metavar="S", help="end the take after so many silent seconds"
    )
    parser.add_argument("--keep", metavar="FOLDER", help="where takes and verdicts are kept")
    add_terms(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Listen to one take and report on it; the exit status."""
    from livecheck.keeping.folder import default_folder
    from livecheck.keeping.keeper import Keeper
    from livecheck.sources.live_input import LiveInput

    if len(args.paths) != 1:
        raise Unusable("a lesson is missing, or there is more than one; wanted livecheck listen LESSON")
    if args.end_after_s is not None and args.end_after_s <= 0.0:
        raise Unusable(f"--end-after is {args.end_after_s:g}; wanted seconds, above zero")
    if args.timing == "backing" and (args.port is not None or args.start_s is not None):
        raise Unusable("--timing backing plays beside an audio input, from the beginning; wanted no --port, no --start")
    with LiveInput(_wanted(args)) as source:
        terms = terms_of(args, args.paths[0])
        folder = default_folder() if args.keep is None else Path(args.keep)
        keeper = Keeper(folder, terms.brief.lesson.title, datetime.now().astimezone(), say)
        try:
            verdict = _played(source, terms, keeper, args, folder)
        finally:
            keeper.close()
    _report(verdict, terms, keeper, args.json)
    return CLEAN if verdict.clean else FAULTY


def _wanted(args: argparse.Namespace) -> Wanted:
    from livecheck.sources.driver_message import Wanted

    if args.port is not None:
        return Wanted("midi", args.port)
    if args.timing == "backing":
        return Wanted("audio", args.device, args.rate_hz, args.channel or 1, speaks=True)
    named = args.device is not None or args.channel is not None or args.rate_hz is not None
    return Wanted("audio" if named else "any", args.device, args.rate_hz, args.channel or 1)


def _played(source: LiveInput, terms: Terms, keeper: Keeper, args: argparse.Namespace, folder: Path) -> TakeVerdict:
    from livecheck.cli.session import Session

    opened = source.open()
    if args.timing == "backing":
        terms = replace(terms, brief=_with_backing(source, opened, terms.brief, args.paths[0], folder))
    told_on = None if args.json else terms.brief.lesson.copedent
    return Session(_live(opened, terms, keeper), opened, keeper, args.end_after_s, told_on).play(source)


def _with_backing(source: LiveInput, opened: Opened, brief: Brief, lesson: str, folder: Path) -> Brief:
    """Play the lesson's backing from its beginning, soon; a brief that knows when its figures begin in the take."""
    from livecheck.cli.terms import begun
    from livecheck.keeping.latency import kept_latency_ms
    from livecheck.sources.backing import UNKNOWN_LATENCY, Backing, backing_path
    from livecheck.sources.click import CAUTION, LEVEL_DB

    assert opened.rate_hz is not None
    say(CAUTION)
    opened_s = time.monotonic()
    samples = Backing(backing_path(brief.lesson, lesson), opened.rate_hz, LEVEL_DB).samples
    at = round((BACKING_S + time.monotonic() - opened_s) * opened.rate_hz)
    for first in range(0, len(samples), opened.rate_hz):
        source.play(samples[first : first + opened.rate_hz], at + first)
    latency_ms = kept_latency_ms(folder, opened.label, opened.rate_hz)
    if latency_ms is None:
        say(UNKNOWN_LATENCY)
        return begun(brief, None)
    begins_s = round(at / opened.rate_hz + latency_ms / 1000.0, 6)
    say(f"the backing begins at {begins_s:.6f} s of the take, as you are heard")
    return begun(brief, begins_s)


def _live(opened: Opened, terms: Terms, keeper: Keeper) -> LiveAudio | LiveMidi:
    from livecheck.cli.live_audio import LiveAudio
    from livecheck.cli.live_midi import LiveMidi

    if opened.rate_hz is None or opened.channels is None:
        return LiveMidi(terms.brief, keeper, terms.midi_input)
    return LiveAudio(terms.brief, keeper, opened.rate_hz, opened.channels)


def _report(verdict: TakeVerdict, terms: Terms, keeper: Keeper, as_json: bool) -> None:
    from livecheck.keeping.keeper import NOT_KEPT
    from livecheck.reports.console import render
    from livecheck.reports.document import document_of, text_of
    from livecheck.reports.large import Large
    from livecheck.reports.outcome import take_outcome

    if as_json:
        put_json(text_of([document_of(verdict)]))
    else:
        show(render(replace(verdict, take=Path(verdict.take).name), terms.brief.lesson))
        if keeper.path != NOT_KEPT:
            put(f"\nThe take{'' if keeper.is_whole else ', as far as it could be kept'}: {verdict.take}\n")
        if sys.stdout.isatty():
            put("\n")
            show(Large(take_outcome(verdict)))
