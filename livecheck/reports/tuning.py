"""What came of measuring an instrument: what is out of tune, the worst first, and how far strings fall under pedals.

In: a measuring that has come to its end. Out: a renderable as wide as it is told.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from statistics import median

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from livecheck.lesson.listing import listed
from livecheck.lesson.measuring import Measuring, Off, Strike
from livecheck.lesson.pitch import A4_MIDI, hz_of
from livecheck.reports.hanging import Hanging
from livecheck.reports.wording import pitch_text, plain

WORTH_TELLING_CENTS = 3.0
"""What measuring itself may be off by on a real string."""


def strike_text(strike: Strike) -> str:
    """What to strike: string 5, string 5 with A."""
    return f"string {strike.string}{' with ' + listed([plain(name) for name in strike.down]) if strike.down else ''}"


def cents_text(cents: float) -> str:
    return f"{abs(cents):.0f} cents {'flat' if cents < 0.0 else 'sharp'}"


def heard_text(measuring: Measuring, strike: Strike) -> str:
    """How far a strike that was heard is off the copedent; of one that nothing pulls, how far the string fell."""
    off_cents = {off.strike: off.cents for off in measuring.offs}
    return cents_text(off_cents[strike]) if strike.pulled else f"falls by {_fall_cents(measuring, strike):.0f} cents"


def out_of_tune(measuring: Measuring) -> list[Off]:
    """What is off by more than is worth telling, the worst first."""
    return [off for off in measuring.offs if abs(off.cents) >= WORTH_TELLING_CENTS]


@dataclass(frozen=True)
class Tuning:
    measuring: Measuring

    def __rich_console__(self, _: Console, __: ConsoleOptions) -> RenderResult:
        heard, missing = self.measuring.heard, self.measuring.missing
        yield Hanging(f"{plain(self.measuring.copedent.name)}: {len(heard)} of {len(heard) + len(missing)} heard")
        yield from self._whole()
        off = out_of_tune(self.measuring)
        if off:
            yield Text()
            yield Hanging("Out of tune, the worst first:", style="bold")
            width = max(len(strike_text(one.strike)) for one in off)
            for one in off:
                told = f"  {strike_text(one.strike):{width}}  {cents_text(one.cents):>14}"
                yield Text(f"{told}  to be {pitch_text(one.midi)}")
        rest = "Nothing is" if not off else "All else is not" if len(off) < len(self.measuring.offs) else ""
        if rest:
            yield Text()
            yield Hanging(f"{rest} further off than {WORTH_TELLING_CENTS:g} cents.")
        yield from self._drops()
        if missing:
            yield Text()
            yield Hanging(f"Not heard, and taken as the copedent has it: {', '.join(map(strike_text, missing))}")

    def _whole(self) -> Iterator[Hanging]:
        """How far all open strings together are off."""
        together = median(off.cents for off in self.measuring.offs if not off.strike.down)
        if abs(together) >= WORTH_TELLING_CENTS:
            a4_hz = hz_of(A4_MIDI + together / 100.0)
            yield Hanging(f"The open strings together are {cents_text(together)} (A4 at {a4_hz:.1f} Hz).")

    def _drops(self) -> Iterator[Text | Hanging]:
        """The cabinet drop."""
        heard = self.measuring.heard
        falls = [
            f"string {strike.string} by {_fall_cents(self.measuring, strike):.0f} cents with {plain(strike.down[0])}"
            for strike in heard
            if not strike.pulled
        ]
        if falls:
            yield Text()
            yield Hanging(f"Strings that are not pulled fall: {', '.join(falls)}.")


def _fall_cents(measuring: Measuring, strike: Strike) -> float:
    """How far a string falls that what is down does not pull, from where it is open."""
    return 100.0 * (measuring.asked_midi(strike) - measuring.heard[strike])
