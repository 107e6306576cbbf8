"""`livecheck grade`: takes against a lesson."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from livecheck.cli.figures import chosen
from livecheck.cli.output import one_line, put_json, say, show
from livecheck.cli.parser import counted, finite
from livecheck.cli.progress import Progress
from livecheck.cli.status import CLEAN, FAULTY, UNUSABLE
from livecheck.errors import Unusable

if TYPE_CHECKING:
    from livecheck.cli.parser import Subparsers
    from livecheck.engine import Brief
    from livecheck.hearing.midi_input import MidiInput
    from livecheck.judging.verdict import TakeVerdict


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "grade",
        help="compare takes with a lesson",
        usage="livecheck grade LESSON TAKE [TAKE ...] [options]",
        description="Compares takes with a lesson and says what was wrong.",
        epilog="Exit status: 0 all found and clean; 1 faults, extras, a figure not found; 2 something cannot be used.",
    )
    parser.add_argument(
        "paths",
        nargs="*",
        action="extend",
        default=[],
        metavar="LESSON TAKE ...",
        help="a lesson file, then audio or MIDI files",
    )
    parser.add_argument(
        "--figure",
        dest="figures",
        nargs="+",
        action=_Figures,
        default=[],
        metavar="NAME",
        help="only these figures of the lesson",
    )
    parser.add_argument(
        "--timing",
        choices=("free", "click"),
        default="free",
        help="free: the tempo is the player's own; click: the lesson's, on one grid for the whole take",
    )
    parser.add_argument(
        "--start", dest="start_s", type=finite, metavar="S", help="with a click: when it has a beat, in seconds"
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
    parser.add_argument(
        "--channel", type=counted, metavar="N", help="the only channel of an audio file to hear, from 1"
    )
    parser.add_argument("--json", action="store_true", help="print the report as JSON")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Grade the takes; the exit status."""
    from livecheck.engine import Brief
    from livecheck.sources.library import (
        lesson_tolerances,
        load_input,
        load_lesson,
        load_tolerances,
        on_instrument,
        said_by,
    )

    if len(args.paths) < 2:
        missing = "a take is" if args.paths else "a lesson and a take are"
        raise Unusable(f"{missing} missing; wanted livecheck grade LESSON TAKE, files both")
    if args.start_s is not None and args.timing != "click":
        raise Unusable("--start belongs to --timing click; wanted both or neither")
    path, *takes = args.paths
    lesson = load_lesson(path)
    figures = chosen(lesson, args.figures, path)
    if args.tolerances is None:
        tolerances = lesson_tolerances(lesson, path)
    else:
        with said_by("--tolerances"):
            tolerances = load_tolerances(args.tolerances)
    with said_by("--copedent"):
        lesson = lesson if args.copedent is None else on_instrument(lesson, args.copedent)
    with said_by("--input"):
        midi_input = load_input(args.input).for_strings(len(lesson.copedent.strings))
    brief = Brief(lesson, figures, tolerances, args.timing, args.start_s)
    return _Report(brief, midi_input, args.channel, args.json).on(takes)


class _Report:
    """Grades takes one after the other and prints what there is to say."""

    def __init__(self, brief: Brief, midi_input: MidiInput, channel: int | None, as_json: bool) -> None:
        self._brief = brief
        self._midi_input = midi_input
        self._channel = channel
        self._as_json = as_json

    def on(self, takes: Sequence[str]) -> int:
        """Grade takes in the order given; the highest of their exit statuses."""
        outcomes: list[TakeVerdict | Unusable] = []
        for take in takes:
            try:
                outcomes.append(self._graded(take))
            except Unusable as error:
                if len(takes) == 1:
                    raise
                outcomes.append(error)
            if not self._as_json:
                self._show(take, outcomes[-1])
        if self._as_json:
            self._print(takes, outcomes)
        elif len(takes) > 1:
            self._sum_up(outcomes)
        return max(_status(outcome) for outcome in outcomes)

    def _graded(self, take: str) -> TakeVerdict:
        from livecheck.sources.midi_file import is_midi

        return self._graded_midi(take) if is_midi(take) else self._graded_audio(take)

    def _graded_audio(self, take: str) -> TakeVerdict:
        from livecheck.engine import AudioEngine
        from livecheck.sources.audio_file import open_audio

        audio = open_audio(take, self._channel)
        engine = AudioEngine(self._brief, audio.rate_hz)
        heard = 0
        with Progress(take, audio.duration_s) as progress:
            for block in audio.blocks:
                engine.feed(block)
                heard += len(block)
                progress.at(heard / audio.rate_hz)
            progress.judging()
            try:
                verdict = engine.finish(_name(take))
            except Unusable as error:
                raise Unusable("; ".join([str(error), *audio.notes])) from None
        for note in audio.notes:
            say(f"{take}: {note}")
        return verdict

    def _graded_midi(self, take: str) -> TakeVerdict:
        from livecheck.engine import MidiEngine
        from livecheck.sources.midi_file import read_midi

        midi = read_midi(take)
        engine = MidiEngine(self._brief, self._midi_input)
        with Progress(take, midi.duration_s) as progress:
            for time_s, message in midi.messages:
                engine.feed(time_s, message)
                progress.at(time_s)
            progress.judging()
            return engine.finish(_name(take))

    def _show(self, take: str, outcome: TakeVerdict | Unusable) -> None:
        from livecheck.reports.console import render, render_unusable

        if isinstance(outcome, Unusable):
            show(render_unusable(_name(take), str(outcome).removeprefix(f"{take}: ")))
        else:
            show(render(outcome, self._brief.lesson))

    def _sum_up(self, outcomes: Sequence[TakeVerdict | Unusable]) -> None:
        from livecheck.reports.console import render_summary

        verdicts = [outcome for outcome in outcomes if not isinstance(outcome, Unusable)]
        show(render_summary(verdicts, self._brief.lesson, len(outcomes) - len(verdicts)))

    def _print(self, takes: Sequence[str], outcomes: Sequence[TakeVerdict | Unusable]) -> None:
        from livecheck.reports.document import document_of, error_of, text_of

        documents = []
        for take, outcome in zip(takes, outcomes, strict=True):
            if isinstance(outcome, Unusable):
                say(str(outcome))
                documents.append(error_of(_name(take), one_line(str(outcome))))
            else:
                documents.append(document_of(outcome))
        put_json(text_of(documents))


def _status(outcome: TakeVerdict | Unusable) -> int:
    if isinstance(outcome, Unusable):
        return UNUSABLE
    return CLEAN if outcome.clean else FAULTY


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


def _name(take: str) -> str:
    """The take as the caller named it; bytes that are no text are replaced."""
    return os.fsencode(take).decode("utf-8", "replace")
