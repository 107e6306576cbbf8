"""`livecheck practice`: figure by figure to the whole, without a hand on the keyboard."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from livecheck.cli.output import say
from livecheck.cli.parser import counted, finite
from livecheck.cli.status import CLEAN, FAULTY
from livecheck.cli.terms import add_figures, terms_of
from livecheck.errors import Unusable

if TYPE_CHECKING:
    from livecheck.cli.parser import Subparsers
    from livecheck.sources.driver_message import Opened, Wanted
    from livecheck.sources.live_input import LiveInput

BREATH_S = 2.0


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "practice",
        help="practise a lesson, figure by figure to the whole",
        usage="livecheck practice LESSON [options]",
        description="Counts in, listens to one attempt at a figure, tells what was wrong, on the screen and by ear, "
        "and goes again after a breath. Clean attempts bring the tempo up and pass the figure, repeated faults bring "
        "the tempo down; after each new figure all so far are played in a row. Nothing needs the keyboard: just play "
        "on, or press a foot switch. Ctrl-C ends it.",
        epilog="Exit status: 0 the whole lesson was passed; 1 not yet; 2 something cannot be used.",
    )
    parser.add_argument("paths", nargs="*", action="extend", default=[], metavar="LESSON", help="a lesson file")
    add_figures(parser)
    inputs = parser.add_mutually_exclusive_group()
    inputs.add_argument("--device", metavar="NAME", help="the audio input: its name, or a part of it")
    inputs.add_argument("--port", metavar="NAME", help="a MIDI input instead")
    parser.add_argument("--rate", dest="rate_hz", type=counted, metavar="HZ", help="the device's sample rate")
    parser.add_argument("--channel", type=counted, metavar="N", help="the only channel of the sound to hear, from 1")
    parser.add_argument("--foot", metavar="PORT", help="a MIDI port: any message from it goes on, or starts over")
    parser.add_argument(
        "--tempo", type=finite, metavar="BPM", help="where each figure begins: at most the lesson's, the default"
    )
    parser.add_argument(
        "--clean", type=counted, default=3, metavar="N", help="clean attempts in a row that pass a figure (3)"
    )
    parser.add_argument(
        "--breath", dest="breath_s", type=finite, default=BREATH_S, metavar="S", help="seconds between attempts (2)"
    )
    parser.add_argument(
        "--click",
        choices=("count-in", "all", "backing", "none"),
        default="count-in",
        help="count-in: before each attempt; all: also while you play, and your timing is judged by it; backing: the "
        "lesson's backing is played instead, and your timing is judged by that",
    )
    parser.add_argument(
        "--level",
        dest="level_db",
        type=finite,
        metavar="DB",
        help="how loud all that is played is, below full scale (-20)",
    )
    parser.add_argument(
        "--by-ear", choices=("speech", "tones", "none"), default="speech", help="how it is told by ear (speech)"
    )
    parser.add_argument(
        "--play-step",
        action="store_true",
        help="play the step that went wrong as it should sound, when it has been told",
    )
    parser.add_argument("--copedent", metavar="FILE", help="your own instrument: the lesson's strings and changes")
    parser.add_argument("--tolerances", metavar="NAME|FILE", help="strict, standard, relaxed or a file")
    parser.add_argument("--input", default="channel-per-string", metavar="NAME", help="how the MIDI instrument speaks")
    parser.add_argument("--keep", metavar="FOLDER", help="where takes and verdicts are kept")
    parser.set_defaults(run=run, timing="free", start_s=None)


def run(args: argparse.Namespace) -> int:
    """Practise until the lesson is passed or the player ends it; the exit status."""
    from livecheck.cli.foot_switch import FootSwitch
    from livecheck.cli.midi_stand import MidiStand
    from livecheck.cli.practising import Manner, Practising
    from livecheck.cli.stand import Stand
    from livecheck.cli.stop import Stop
    from livecheck.keeping.folder import default_folder
    from livecheck.lesson.plan import Plan
    from livecheck.sources.backing import UNKNOWN_LATENCY, Backing, backing_path
    from livecheck.sources.click import CAUTION, LEVEL_DB
    from livecheck.sources.live_input import LiveInput

    if len(args.paths) != 1:
        raise Unusable("a lesson is missing, or there is more than one; wanted livecheck practice LESSON")
    level_db = LEVEL_DB if args.level_db is None else args.level_db
    if level_db > 0.0:
        raise Unusable(f"--level is {level_db:g}; wanted decibels below full scale, such as {LEVEL_DB:g}")
    if args.breath_s < 0.0:
        raise Unusable(f"--breath is {args.breath_s:g}; wanted seconds, zero or more")
    if args.tempo is not None and args.tempo <= 0.0:
        raise Unusable(f"--tempo is {args.tempo:g}; wanted beats a minute, above zero")
    with LiveInput(_wanted(args)) as source, Stop() as stop, ExitStack() as closing:
        terms = terms_of(args, args.paths[0])
        brief = terms.brief
        goal = brief.lesson.tempo
        if args.click == "backing":
            backing_path(brief.lesson, args.paths[0])
        plan = Plan.begin(len(brief.figures), goal, goal if args.tempo is None else args.tempo, args.clean)
        folder = default_folder() if args.keep is None else Path(args.keep)
        foot = FootSwitch(args.foot)
        closing.callback(foot.close)
        opened = source.open()
        foot.open()
        stand: Stand | MidiStand
        if opened.rate_hz is None:
            stand = MidiStand(source, opened, stop, foot, terms.midi_input, _output(closing))
        else:
            stand = Stand(source, opened, stop, foot)
        say(CAUTION)
        if brief.lesson.copedent.measured is not None:
            say(f"in tune is what the instrument was measured to be on {brief.lesson.copedent.measured.isoformat()}")
        say(f"listening to {opened.label}; Ctrl-C ends it")
        if args.click in ("all", "backing") and stand.latency_ms(folder) is None:
            say(UNKNOWN_LATENCY)
        backing = None
        if args.click == "backing":
            backing = Backing(backing_path(brief.lesson, args.paths[0]), stand.rate_hz, level_db)
        manner = Manner(args.click, args.by_ear, level_db, args.breath_s, folder, args.play_step, backing)
        done = Practising(stand, brief, plan, manner).run()
    return CLEAN if done else FAULTY


def _wanted(args: argparse.Namespace) -> Wanted:
    from livecheck.sources.driver_message import Wanted

    if args.port is not None:
        return Wanted("midi", args.port)
    return Wanted("audio", args.device, args.rate_hz, args.channel or 1, speaks=True)


def _output(closing: ExitStack) -> tuple[LiveInput, Opened] | None:
    """An audio output for what is played beside a MIDI instrument; None where there is none."""
    from livecheck.sources.driver_message import Wanted
    from livecheck.sources.live_input import LiveInput

    output = closing.enter_context(LiveInput(Wanted("speak")))
    try:
        return output, output.open()
    except Unusable as error:
        say(f"{error}; no click, nothing by ear")
        return None
