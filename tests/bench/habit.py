"""What a player does that no lesson writes down and that is no fault."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Habit:
    """Nothing of it by default; `tests.bench.levels` has how much is common."""

    vibrato_cents: float = 0.0
    """On every held note; 0: as the take has it."""
    slowness: float = 0.0
    """How much longer than written glides take."""
    scoop_cents: float = 0.0
    """From how far below two in three picks slide to their pitch."""
    scoop_s: float = 0.0
    apart_s: float = 0.0
    """How far apart bar and pedals may arrive where both move."""
    rake_s: float = 0.0
    cabinet_cents: float = 0.0
    """How much everything falls with the first pedal that is down."""
    rubato_s: float = 0.0
    swell_s: float = 0.0
    """0: as the renderer has it."""
    rattle_db: float = -200.0
    muted_db: float = -200.0
    restart_share: float = 0.0
    times: float = 1.0
    """How often each figure is played."""
    intruders: float = 0.0
    """How many figures of another lesson are played in between."""
    pause_s: float = 0.0
    """Before restarts and repeats, around intruders."""


NONE = Habit()
