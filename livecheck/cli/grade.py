"""`livecheck grade`: takes against a lesson."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from typing import TYPE_CHECKING

from livecheck.cli.output import one_line, put_json, say, show
from livecheck.cli.progress import Progress
from livecheck.cli.status import CLEAN, FAULTY, UNUSABLE
from livecheck.cli.terms import add_terms, terms_of
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
    add_terms(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Grade the takes; the exit status."""
    if len(args.paths) < 2:
        missing = "a take is" if args.paths else "a lesson and a take are"
        raise Unusable(f"{missing} missing; wanted livecheck grade LESSON TAKE, files both")
    path, *takes = args.paths
    terms = terms_of(args, path)
    return _Report(terms.brief, terms.midi_input, args.channel, args.json).on(takes)


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
        from livecheck.sources.take_file import is_midi

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


def _name(take: str) -> str:
    """The take as the caller named it; bytes that are no text are replaced."""
    return os.fsencode(take).decode("utf-8", "replace")
