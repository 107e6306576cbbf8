"""The onsets of a part of a take that still goes on.

What is faint is told by the loudest moment of the part, and the last moments are left out: there, the end of what was
recorded looks like an onset.
"""

from __future__ import annotations

from dataclasses import replace

from livecheck.hearing.sound.onset import HOP, Onset, onsets
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ

EDGE_S = 0.04


def onsets_since(recording: Recording, from_s: float) -> list[Onset]:
    """Onsets from a time on, in order, of what was recorded so far."""
    start = max(0, round((from_s - EDGE_S) * WORK_RATE_HZ / HOP) * HOP)
    part = Recording()
    part.append(recording.slice(start, max(start, len(recording))))
    start_s = start / WORK_RATE_HZ
    found = (replace(onset, time_s=start_s + onset.time_s) for onset in onsets(part))
    return [onset for onset in found if from_s <= onset.time_s < recording.duration_s - EDGE_S]
