"""Several things in one sentence."""

from __future__ import annotations

from collections.abc import Sequence


def listed(names: Sequence[str]) -> str:
    """Joined for reading: A, A and B, or A, B and C."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
