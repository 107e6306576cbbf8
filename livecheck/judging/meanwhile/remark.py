"""What has become certain of an attempt that still goes on: the verdict on its figure that holds only what is wrong."""

from __future__ import annotations

from dataclasses import dataclass

from livecheck.judging.verdict import FigureVerdict


@dataclass(frozen=True)
class Remark:
    verdict: FigureVerdict
    """With the faulty checkpoints, or the extras, that it is about, and no others."""
    since_s: float
    """When that came, in the take, which made it certain."""
