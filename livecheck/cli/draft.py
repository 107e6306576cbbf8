"""`livecheck draft`: a lesson from a take."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from livecheck.cli.named import copedent_named
from livecheck.cli.output import put, say
from livecheck.cli.parser import counted, finite
from livecheck.cli.passage import check_passage, passage
from livecheck.cli.positions import DEFAULT_COPEDENT
from livecheck.cli.progress import Progress
from livecheck.cli.status import CLEAN
from livecheck.cli.written import check_outputs, write_new
from livecheck.errors import Unusable

if TYPE_CHECKING:
    from livecheck.cli.parser import Subparsers
    from livecheck.drafting.line import Line
    from livecheck.lesson.copedent import Copedent

OUT = "--out"


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "draft",
        help="write a lesson from a take",
        usage="livecheck draft TAKE [options]",
        description="Listens to a take without any lesson and writes one that asks for what was played: its notes with "
        "picks and moves, cut into figures where the player breathes, on round beats, and where bar, pedals and levers "
        "are likely to have been. What is unsure carries a remark. Read it through, play it, put it right.",
    )
    parser.add_argument("take", metavar="TAKE", help="audio, or a MIDI file")
    parser.add_argument("--copedent", default=DEFAULT_COPEDENT, metavar="NAME|FILE", help="the instrument")
    parser.add_argument("--tempo", type=finite, metavar="BPM", help="beats a minute, where you know about what it is")
    parser.add_argument("--from", dest="from_s", type=finite, metavar="S", help="begin at this second")
    parser.add_argument("--to", dest="to_s", type=finite, metavar="S", help="end at this second")
    parser.add_argument("--input", default="channel-per-string", metavar="NAME", help="how the MIDI instrument speaks")
    parser.add_argument("--channel", type=counted, metavar="N", help="the only channel of the sound to hear, from 1")
    parser.add_argument("--title", metavar="TEXT", help="the lesson's title, instead of the take's name")
    parser.add_argument(OUT, metavar="FILE", help="the file to write, instead of one named after the take")
    parser.add_argument("--overwrite", action="store_true", help="write over a file that is there")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Draft the lesson and write it; the exit status."""
    from livecheck.drafting.draft import draft
    from livecheck.lesson.reading import FASTEST, SLOWEST
    from livecheck.lesson.writing import lesson_text
    from livecheck.reports.drafted import drafted_text
    from livecheck.sources.library import load_copedent, said_by

    if args.tempo is not None and not SLOWEST <= args.tempo <= FASTEST:
        raise Unusable(f"--tempo is {args.tempo:g}; wanted {SLOWEST:g} to {FASTEST:g} beats a minute")
    out = args.out if args.out is not None else f"{Path(args.take).stem}.toml"
    check_outputs({OUT: out}, [args.take], args.overwrite)
    with said_by("--copedent"):
        copedent = load_copedent(args.copedent)
    lines = _lines(args, copedent)
    title = args.title if args.title is not None else Path(args.take).stem
    drafted = draft(lines, copedent, copedent_named(args.copedent, Path(), out), _text(title), args.tempo)
    if drafted is None:
        raise Unusable(f"{args.take}: no string was heard in it; wanted one to three strings, picked")
    comment = f"Drafted by livecheck draft from {_text(os.path.basename(args.take))}."
    write_new(OUT, out, lesson_text(drafted.lesson, comment).encode(), args.overwrite)
    put(drafted_text(drafted) + f"Written: {out}\n")
    return CLEAN


def _lines(args: argparse.Namespace, copedent: Copedent) -> list[Line]:
    from livecheck.sources.take_file import is_midi

    return _midi_lines(args, copedent) if is_midi(args.take) else _audio_lines(args, copedent)


def _audio_lines(args: argparse.Namespace, copedent: Copedent) -> list[Line]:
    from livecheck.drafting.take import lines_in_audio
    from livecheck.sources.audio_file import open_audio

    audio = open_audio(args.take, args.channel)
    for note in audio.notes:
        say(f"{args.take}: {note}")
    blocks, lasts_s = passage(audio, args.take, args.from_s, args.to_s)
    with Progress(args.take, lasts_s):
        return lines_in_audio(blocks, audio.rate_hz, copedent)


def _midi_lines(args: argparse.Namespace, copedent: Copedent) -> list[Line]:
    from livecheck.drafting.take import lines_in_midi
    from livecheck.sources.library import load_input, said_by
    from livecheck.sources.midi_file import read_midi

    with said_by("--input"):
        midi_input = load_input(args.input).for_strings(len(copedent.strings))
    midi = read_midi(args.take)
    begin_s, end_s = check_passage(args.take, midi.duration_s, args.from_s, args.to_s)
    return [line for line in lines_in_midi(midi.messages, midi_input) if begin_s <= line.start_s < end_s]


def _text(name: str) -> str:
    """A file's name as text; bytes that are none are replaced."""
    return os.fsencode(name).decode("utf-8", "replace")
