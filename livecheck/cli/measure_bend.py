"""`livecheck measure --port`: how far the bends of a MIDI instrument reach, where it does not say so itself."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import mido

from livecheck.cli.output import put, say, show
from livecheck.cli.status import CLEAN
from livecheck.cli.stop import Stop
from livecheck.errors import Unusable
from livecheck.hearing.midi.bend_range import BendRange
from livecheck.keeping.instrument import write_instrument
from livecheck.reports.large import Large
from livecheck.sources.driver_message import Sent, Wanted
from livecheck.sources.live_input import LiveInput, Lost

FROM_FRET, TO_FRET = 5, 7
FIRST_STATUS, FIRST_SYSTEM = 0x80, 0xF0


def measure_bend(port: str, path: Path, *, overwrite: bool) -> int:
    """Ask for a slide, write an input file; the exit status. Unusable if it cannot be measured or written."""
    semitones = _measured(port)
    text = (
        f"# How far the bends of this instrument reach, as livecheck measure found it.\nformat = 1\n"
        f"bend_semitones = {semitones:g}\n\n[channels]\n" + "".join(f"{n} = {n}\n" for n in range(1, 17))
    )
    try:
        write_instrument(path, text, replace=overwrite)
    except OSError as error:
        raise Unusable(f"{path}: cannot be written ({error.strerror}); wanted a folder to write to") from None
    put(f"Bends reach {semitones:g} semitones.\nWritten: {path}\nUse it with --input {path}\n")
    return CLEAN


def _measured(port: str) -> float:
    with LiveInput(Wanted("midi", port)) as source, Stop() as stop:
        opened = source.open()
        say(f"listening to {opened.label}; Ctrl-C ends it")
        if sys.stdout.isatty():
            show(Large(f"{FROM_FRET} to {TO_FRET}"))
        put(f"Strike one string with the bar at fret {FROM_FRET}, slide to fret {TO_FRET}, and hold it there.\n")
        bends = BendRange(float(TO_FRET - FROM_FRET))
        for event in source.events():
            now_s = time.monotonic()
            if isinstance(event, Sent) and FIRST_STATUS <= event.data[0] < FIRST_SYSTEM:
                bends.feed(now_s, mido.Message.from_bytes(event.data))
            elif isinstance(event, Lost):
                raise Unusable(f"{opened.label} has gone; wanted one that stays until it is measured")
            if bends.was_struck_anew:
                raise Unusable(f"{opened.label} begins a new note in the slide; wanted an instrument that bends one")
            if (semitones := bends.semitones(now_s)) is not None:
                return semitones
            if stop.asked:
                break
    raise Unusable("no slide was heard; wanted one string, struck and slid")
