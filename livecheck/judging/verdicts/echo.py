"""A delay unit's repeats, told from what was played by the one lag that they all have.

The lag is learnt from the take itself: where most of what nobody asked for follows something that was played at one
and the same distance, with the same pitch, it is an echo.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.median import median
from livecheck.judging.verdict import ExtraVerdict

SHORTEST_S, LONGEST_S = 0.12, 0.8
SAME_S, SAME_SEMITONES = 0.02, 0.7
LEAST_REPEATS, LEAST_SHARE = 4, 0.4
MOST_TIMES = 3
"""How often one stroke is expected to come back."""


def lag_s(extras: Sequence[ExtraVerdict], notes: Sequence[HeardNote]) -> float | None:
    """The lag at which most extras repeat a note, in seconds; None if there is none."""
    lags = np.sort([lag for extra in extras for lag in _lags(extra, notes)])
    if not len(lags):
        return None
    counts = [int(np.searchsorted(lags, lag + SAME_S) - np.searchsorted(lags, lag - SAME_S)) for lag in lags]
    best = float(lags[int(np.argmax(counts))])
    best = median(lags[np.abs(lags - best) <= SAME_S])
    explained = sum(is_repeat(extra, notes, best) for extra in extras)
    return best if explained >= max(LEAST_REPEATS, LEAST_SHARE * len(extras)) else None


def is_repeat(extra: ExtraVerdict, notes: Sequence[HeardNote], echo_s: float) -> bool:
    """Whether an extra is a note that came back once or more often."""
    return any(
        abs(lag - times * echo_s) <= SAME_S
        for lag in _lags(extra, notes, MOST_TIMES * LONGEST_S)
        for times in range(1, MOST_TIMES + 1)
    )


def _lags(extra: ExtraVerdict, notes: Sequence[HeardNote], longest_s: float = LONGEST_S) -> list[float]:
    """How long before an extra its pitch was struck."""
    found = []
    for note in notes:
        lag = extra.at_s - note.start_s
        if SHORTEST_S <= lag <= longest_s and _has(note, extra.midi):
            found.append(lag)
    return found


def _has(note: HeardNote, midi: float) -> bool:
    pitches = note.midis[np.isfinite(note.midis)]
    return bool(len(pitches)) and bool(np.min(np.abs(pitches - midi)) <= SAME_SEMITONES)
