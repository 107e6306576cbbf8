"""Figures one after the other as they should sound, with a click and a count-in.

In: figures, a copedent, a tempo. Out: mono float32 samples, strings and click each with their peaks at the level asked
for. Every figure's first beat is the first of a bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Figure
from livecheck.sources.click import clicks
from livecheck.sources.example import whole_example

Click = Literal["count-in", "all", "none"]


def rendition(
    figures: Sequence[Figure], copedent: Copedent, tempo: float, beats_a_bar: int, rate_hz: int, level_db: float,
    click: Click = "count-in",
) -> NDArray[np.float32]:  # fmt: skip
    """`click`: a bar before the first figure, the same and all through, or none."""
    parts = [] if click == "none" else [clicks(beats_a_bar, tempo, beats_a_bar, rate_hz, level_db)]
    for figure in figures:
        part = whole_example(figure, copedent, tempo, rate_hz, level_db)
        if click == "all":
            beats = int(np.ceil(float(figure.length)))
            part = part + clicks(beats, tempo, beats_a_bar, rate_hz, level_db)[: len(part)]
        parts.append(part)
    return np.concatenate(parts)
