"""How much is allowed: the limits that decide between clean and faulty."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Tolerances:
    """Limits by which a take is judged; `configs/tolerances/standard.toml` gives the reasons."""

    cents: float
    wrong_note_cents: float
    pick_ms: float
    arrival_ms: float
    gap_share: float
    """No time tolerance is wider than this share of the gap to the nearest other step."""
    short_share: float
    rang_on_ms: float
