"""What one string did from its pick to its end: the pitches on which it came to rest, and when it got to each."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Rest:
    """A pitch that was held."""

    midi: float
    """Middle of what sounded, vibrato and all."""
    arrived_s: float
    """When the pick sounded, or the glide ended."""
    over_s: float = 0.0
    """How long the glide there took; 0 for the pick."""
    vibrato: bool = False


@dataclass(frozen=True)
class Line:
    """Seconds from the start of the take, MIDI numbers with decimals as it sounded."""

    start_s: float
    end_s: float
    rests: tuple[Rest, ...]
    """The first is that of the pick."""
    string: int | None = None
    """Where the source knows it."""
    odds: float = 10.0
    """Logarithm of the odds that it was picked at all."""
    margin: float = 1.0
    """How much better this pitch explains the sound than any other."""
    damped: bool = True
    """Whether it was silenced, or else died away by itself."""
