"""`livecheck devices`: what can be listened to, and what is missing for more."""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING

from livecheck.cli.output import one_line, put, say
from livecheck.cli.status import CLEAN, UNUSABLE

if TYPE_CHECKING:
    from livecheck.cli.parser import Subparsers
    from livecheck.sources.driver_message import Device, Listing

WIDTH = 80
NAME_WIDTH = 38


def add(subparsers: Subparsers) -> None:
    """Declare the command."""
    parser = subparsers.add_parser(
        "devices",
        help="tell the audio and MIDI inputs that there are",
        usage="livecheck devices",
        description="Tells which audio and MIDI inputs can be listened to, what each offers, and what is missing.",
        epilog="Exit status: 0 there is something to listen to; 2 there is nothing.",
    )
    parser.set_defaults(run=run)


def run(_: argparse.Namespace) -> int:
    """Print the list; the exit status."""
    from livecheck.sources.driver_process import listing

    found = listing()
    put("\n".join(_lines(found)) + "\n")
    if found.devices or found.ports:
        return CLEAN
    say("there is nothing to listen to; wanted an audio or a MIDI input")
    return UNUSABLE


def _lines(found: Listing) -> Iterator[str]:
    if found.devices:
        yield f"  {'Audio input':{NAME_WIDTH}} channels      rate   latency"
        for device in found.devices:
            yield from _device(device)
    if found.ports:
        yield from [""] if found.devices else []
        yield "  MIDI input"
        yield from (f"  {one_line(port.label)}" for port in found.ports)
    for number, sentence in enumerate(found.missing):
        if number or found.devices or found.ports:
            yield ""
        yield from textwrap.wrap(
            f"Missing: {one_line(sentence)}", WIDTH, subsequent_indent="  ", break_on_hyphens=False
        )
    if any(device.is_default for device in found.devices):
        yield "\n* is heard unless --device names another; a part of a name will do."


def _device(device: Device) -> Iterator[str]:
    mark = "*" if device.is_default else " "
    numbers = f"{device.channels:8}  {device.rate_hz:5} Hz {device.latency_ms:6.0f} ms"
    label = one_line(device.label)
    if len(label) > NAME_WIDTH:
        yield f"{mark} {label}"
        mark, label = " ", ""
    yield f"{mark} {label:{NAME_WIDTH}} {numbers}"
    others = [str(rate_hz) for rate_hz in device.rates_hz if rate_hz != device.rate_hz]
    if others:
        yield f"    also {', '.join(others)} Hz"
