"""Beats: `4`, `4.5`, `"9/2"`, `"4 1/2"` are read as exact fractions."""

from __future__ import annotations

import math
import re
from fractions import Fraction

_MIXED = re.compile(r"(?:([0-9]{1,9})\s+)?([0-9]{1,9})\s*/\s*([0-9]{1,9})")
_DECIMAL = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,9})?")
_MOST = 1_000_000


def parse_beat(written: int | float | str) -> Fraction:
    """The beat as a fraction. ValueError if it is no finite number."""
    if isinstance(written, str):
        return _parse_text(written.strip())
    if isinstance(written, float) and not math.isfinite(written):
        raise ValueError(f"{written} is not finite")
    if abs(written) > _MOST:
        raise ValueError(f"a number beyond {_MOST}")
    return Fraction(written).limit_denominator(10_000)


def _parse_text(written: str) -> Fraction:
    match = _MIXED.fullmatch(written)
    if match is not None:
        whole, over, under = match.groups()
        if int(under) == 0:
            raise ValueError(f'"{written}" divides by zero')
        return int(whole or 0) + Fraction(int(over), int(under))
    if _DECIMAL.fullmatch(written) is None:
        raise ValueError(f'"{written}" is no beat; wanted a number such as 4, 4.5, "9/2" or "4 1/2"')
    return Fraction(written)


def beat_text(beat: Fraction) -> str:
    """A beat as a player reads it: 4, 4 1/2, 2 1/3."""
    whole, rest = divmod(beat, 1)
    if rest == 0:
        return str(whole)
    if rest.denominator > 16:
        return f"{float(beat):.2f}"
    return f"{whole} {rest}" if whole else str(rest)
