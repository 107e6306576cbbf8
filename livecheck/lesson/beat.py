"""Beats: `4`, `4.5`, `"9/2"`, `"4 1/2"` are read as exact fractions."""

from __future__ import annotations

import math
import re
from fractions import Fraction

_MIXED = re.compile(r"(?:(\d+)\s+)?(\d+)\s*/\s*(\d+)")


def parse_beat(written: int | float | str) -> Fraction:
    """The beat as a fraction. ValueError if it is no finite number."""
    if isinstance(written, str):
        match = _MIXED.fullmatch(written.strip())
        if match is not None:
            whole, over, under = match.groups()
            if int(under) == 0:
                raise ValueError(f'"{written}" divides by zero')
            return int(whole or 0) + Fraction(int(over), int(under))
        try:
            return Fraction(written.strip())
        except ValueError:
            raise ValueError(f'"{written}" is no beat; wanted a number such as 4, 4.5, "9/2" or "4 1/2"') from None
    if not math.isfinite(written):
        raise ValueError(f"{written} is not finite")
    return Fraction(written).limit_denominator(10_000)


def beat_text(beat: Fraction) -> str:
    """A beat as a player reads it: 4, 4 1/2, 2 1/3."""
    whole, rest = divmod(beat, 1)
    if rest == 0:
        return str(whole)
    if rest.denominator > 16:
        return f"{float(beat):.2f}"
    return f"{whole} {rest}" if whole else str(rest)
