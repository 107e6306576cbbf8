"""An attack: strings that were struck at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Attack:
    time_s: float
    midis: tuple[float, ...]
    """As it sounded, the lowest first."""
    levels_db: tuple[float, ...]
    """How loud each one's first partials are."""
    odds: float
    """Logarithm of the odds that something was picked."""
    margin: float
    """How much better these pitches are than the next-best ones."""

    def only(self, indices: Sequence[int]) -> Attack:
        """The same with some of its strings."""
        midis, levels_db = (tuple(v[i] for i in indices) for v in (self.midis, self.levels_db))
        return replace(self, midis=midis, levels_db=levels_db)
