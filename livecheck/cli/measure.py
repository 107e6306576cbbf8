"""`livecheck measure`: how an instrument is really tuned, string by string and change by change."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from livecheck.cli.output import put, say, show
from livecheck.cli.parser import counted
from livecheck.cli.status import CLEAN, FAULTY
from livecheck.errors import Unusable

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from livecheck.cli.parser import Subparsers
    from livecheck.lesson.measuring import Measuring

UNCLEAR_S = 4.0
"""What sounds for so long and is not one clear note is more than one string."""
MOST_TOLD = 6
"""Strings that are named where some were not heard; of more only the number."""


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "measure",
        help="measure how your instrument is really tuned",
        usage="livecheck measure [TAKE] --copedent NAME [options]\n       livecheck measure --port NAME [options]",
        description="Asks for each string, open and with each pedal and lever, one at a time: strike it and let it "
        "ring until the next is asked for. Then says what is out of tune, and writes your instrument as a copedent, "
        "which is used from then on for lessons that name this one. A take, if given, is listened to instead of an "
        "audio input.",
        epilog="Exit status: 0 all is in tune; 1 something is not; 2 something cannot be used.",
    )
    parser.add_argument("take", nargs="?", metavar="TAKE", help="a recording of the strings, struck in that order")
    parser.add_argument(
        "--copedent",
        metavar="NAME|FILE",
        help="the copedent that the instrument is meant to have; wanted without --port",
    )
    parser.add_argument("--device", metavar="NAME", help="the audio input: its name, or a part of it")
    parser.add_argument(
        "--port", metavar="NAME", help="a MIDI instrument: measure only how far its bends reach, by one slide"
    )
    parser.add_argument("--rate", dest="rate_hz", type=counted, metavar="HZ", help="the device's sample rate")
    parser.add_argument("--channel", type=counted, metavar="N", help="the only channel of the sound to hear, from 1")
    parser.add_argument(
        "--out", metavar="FILE", help="the file to write, instead of one that is found without being told"
    )
    parser.add_argument("--overwrite", action="store_true", help="write over what was measured before")
    parser.add_argument("--keep", metavar="FOLDER", help="where takes and instruments are kept")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Measure, tell, write; the exit status."""
    from livecheck.lesson.measuring import Measuring
    from livecheck.reports.tuning import Tuning, out_of_tune
    from livecheck.sources.library import load_copedent, said_by

    if args.port is not None:
        return _bend(args)
    if args.copedent is None:
        raise Unusable("--copedent is missing; wanted the name or file of the copedent the instrument is meant to have")
    with said_by("--copedent"):
        meant = load_copedent(args.copedent)
    path = _path(args)
    _check_place(path, overwrite=args.overwrite)
    measuring = _Measured(Measuring.of(meant), asks=not args.take).through(_file(args) if args.take else _device(args))
    if not measuring.has_all_open:
        raise Unusable(f"{_not_heard(measuring)}; wanted each open string; nothing is written")
    show(Tuning(measuring))
    _write(path, measuring, overwrite=args.overwrite)
    return FAULTY if out_of_tune(measuring) else CLEAN


def _path(args: argparse.Namespace) -> Path:
    from livecheck.keeping.folder import default_folder
    from livecheck.keeping.instrument import instrument_path

    if args.out is not None:
        return Path(args.out)
    return instrument_path(default_folder() if args.keep is None else Path(args.keep), args.copedent)


def _bend(args: argparse.Namespace) -> int:
    from livecheck.cli.measure_bend import measure_bend
    from livecheck.keeping.folder import default_folder

    if args.take is not None or args.copedent is not None:
        raise Unusable("--port measures by itself; wanted no TAKE and no --copedent beside it")
    folder = default_folder() if args.keep is None else Path(args.keep)
    path = folder / "inputs" / "measured.toml" if args.out is None else Path(args.out)
    _check_place(path, overwrite=args.overwrite)
    return measure_bend(args.port, path, overwrite=args.overwrite)


def _check_place(path: Path, *, overwrite: bool) -> None:
    """Before a player has struck thirty strings for a file that cannot be written."""
    from livecheck.keeping.folder import check_place

    if path.exists() and not overwrite:
        raise Unusable(f"{path}: is there already; wanted --overwrite to measure anew, or --out with another file")
    try:
        check_place(path.parent)
    except OSError as error:
        raise Unusable(f"{path}: cannot be written ({error.strerror}); wanted a folder to write to") from None


class _Measured:
    """Listens, asks and tells; of a recording nothing is asked."""

    def __init__(self, measuring: Measuring, *, asks: bool) -> None:
        self._measuring = measuring
        self._asks = asks
        self._told_to_damp = False

    def through(self, blocks: Iterable[tuple[int, NDArray[np.float32]]]) -> Measuring:
        """Go through sound, given as its rate and a block each time, until all is heard or it ends."""
        from livecheck.hearing.sound.steady import SteadyEar

        ear: SteadyEar | None = None
        for rate_hz, block in blocks:
            if ear is None:
                ear = SteadyEar(rate_hz)
                self._ask()
            for held in ear.feed(block):
                self._hear(held.midi)
            if ear.unclear_s > UNCLEAR_S and not self._told_to_damp:
                self._told_to_damp = True
                put("  more than one string sounds, or none steadily: damp the others\n")
            if self._measuring.next is None:
                break
        return self._measuring

    def _hear(self, midi: float) -> None:
        from livecheck.lesson.pitch import name_of
        from livecheck.reports.tuning import heard_text, strike_text

        before = self._measuring
        self._measuring = before.hear(midi)
        taken = [strike for strike in self._measuring.heard if strike not in before.heard]
        self._told_to_damp = False
        if taken:
            put(f"  {strike_text(taken[0])}: {heard_text(self._measuring, taken[0])}\n")
            self._ask()
        elif before.next is not None:
            wanted = f"{strike_text(before.next)}, {name_of(before.asked_midi(before.next))}"
            put(f"  heard {name_of(midi)}; wanted {wanted}\n")

    def _ask(self) -> None:
        """Say what to strike, to be read from behind the instrument."""
        from livecheck.reports.large import Large
        from livecheck.reports.tuning import strike_text

        strike = self._measuring.next
        if strike is None or not self._asks:
            return
        if sys.stdout.isatty():
            put("\n")
            show(Large(f"{strike.string} {' '.join(strike.down) if strike.down else 'open'}"))
        left = len(self._measuring.waiting)
        put(f"Strike {strike_text(strike)}{'' if strike.down else ', open'}; {left} to go.\n")


def _file(args: argparse.Namespace) -> Iterator[tuple[int, NDArray[np.float32]]]:
    from livecheck.sources.audio_file import open_audio
    from livecheck.sources.take_file import is_midi

    if is_midi(args.take):
        raise Unusable(f"{args.take}: is a MIDI file; wanted the sound of the strings")
    audio = open_audio(args.take, args.channel)
    for note in audio.notes:
        say(f"{args.take}: {note}")
    for block in audio.blocks:
        yield audio.rate_hz, block


def _device(args: argparse.Namespace) -> Iterator[tuple[int, NDArray[np.float32]]]:
    import numpy as np

    from livecheck.cli.stop import Stop
    from livecheck.sources.driver_message import Block, Wanted
    from livecheck.sources.live_input import Back, LiveInput, Lost

    with LiveInput(Wanted("audio", args.device, args.rate_hz, args.channel or 1)) as source, Stop() as stop:
        opened = source.open()
        assert opened.rate_hz is not None
        assert opened.channels is not None
        say(f"listening to {opened.label} at {opened.rate_hz} Hz; damp the other strings; Ctrl-C ends it")
        for event in source.events():
            if isinstance(event, Block):
                samples = np.frombuffer(event.samples, dtype=np.float32)
                yield opened.rate_hz, samples[opened.channels - 1 :: opened.channels]
            elif isinstance(event, Lost | Back):
                say(f"{opened.label} {'has gone; waiting for it' if isinstance(event, Lost) else 'is back; listening'}")
            if stop.asked:
                return


def _not_heard(measuring: Measuring) -> str:
    missing = [strike.string for strike in measuring.missing if not strike.down]
    if not measuring.heard:
        return "no string was heard that is asked for"
    named = ", ".join(map(str, missing)) if len(missing) <= MOST_TOLD else f"{len(missing)} of them"
    return f"not all strings were heard (missing: {named})"


def _write(path: Path, measuring: Measuring, *, overwrite: bool) -> None:
    from livecheck.keeping.instrument import write_instrument
    from livecheck.lesson.writing import copedent_text

    comment = "An instrument as it was measured by livecheck measure."
    text = copedent_text(measuring.measured(date.today()), comment)
    try:
        write_instrument(path, text, replace=overwrite)
    except OSError as error:
        put(f"\n{text}")
        raise Unusable(f"{path}: cannot be written ({error.strerror}); wanted a place for what stands above") from None
    put(f"\nWritten: {path}\n")
