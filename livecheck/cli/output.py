"""What is told: results on standard output, everything else on standard error, one line each.

A reader that has gone away (`livecheck … | head -1`) is no error; output that cannot be written is.
"""

from __future__ import annotations

import io
import os
import sys
import warnings
from typing import TYPE_CHECKING, TextIO

from livecheck.errors import Unusable

if TYPE_CHECKING:
    from rich.console import RenderableType


def prepare() -> None:
    """Characters that a terminal cannot show never stop the program, and warnings are for those who asked for them."""
    if not sys.warnoptions:
        warnings.simplefilter("ignore")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def put(text: str) -> None:
    """Write to standard output, now. Unusable if it cannot be written."""
    stream = _stdout()
    try:
        stream.write(text)
        stream.flush()
    except BrokenPipeError:
        discard()
    except OSError as error:
        discard()
        raise Unusable(f"the output cannot be written: {error.strerror}") from None


def show(renderable: RenderableType) -> None:
    """Write something of rich's to standard output, as wide and as colourful as that is.

    What is wider all the same (a tablature's widest step, on a narrow terminal) is not cut off.
    """
    from rich.console import Console

    console = Console(file=_stdout(), highlight=False)
    console.file = rendered = io.StringIO()
    console.print(renderable, crop=False)
    put(rendered.getvalue())


def put_json(text: str) -> None:
    """Write JSON, which is UTF-8 whatever the terminal's encoding is (RFC 8259, section 8.1)."""
    stream = _stdout()
    if isinstance(stream, io.TextIOWrapper):
        stream.reconfigure(encoding="utf-8")
    put(text)


def say(sentence: str) -> None:
    """One line on standard error; nothing where there is none."""
    if sys.stderr is None:
        return
    try:
        sys.stderr.write(f"livecheck: {one_line(sentence)}\n")
        sys.stderr.flush()
    except OSError:
        return


def one_line(text: str) -> str:
    """The text on one line, without characters that could do something to a terminal."""
    return "".join(character if character.isprintable() else "?" for character in " ".join(text.splitlines()))


def discard() -> None:
    """Let what is still to be written to standard output vanish, so that ending the program does not try again."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, _stdout().fileno())
    os.close(nowhere)


def _stdout() -> TextIO:
    if sys.stdout is None:
        raise Unusable("there is no standard output to write to")
    return sys.stdout
