"""The pitch of one string that sounds alone, whatever it is: aubio's YIN (de Cheveigné & Kawahara, JASA 2002).

Where nothing else rings no score is needed to name a wrong note, and YIN has no favourite pitches.
"""

from __future__ import annotations

import numpy as np

from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ

WINDOW, HOP = 2048, 512
LEAST_CONFIDENCE = 0.8
LEAST_SHARE = 0.6
STEADY_CENTS = 40.0


def single_midi(recording: Recording, start_s: float, stop_s: float) -> float | None:
    """The MIDI number of what sounds alone between two times; None if it is not one steady pitch."""
    import aubio  # seldom needed, and takes a while

    detector = aubio.pitch("yinfast", WINDOW, HOP, WORK_RATE_HZ)
    detector.set_unit("midi")
    detector.set_tolerance(0.15)
    start = round(start_s * WORK_RATE_HZ) - WINDOW // 2
    found = []
    for at in range(start, round(stop_s * WORK_RATE_HZ) + WINDOW // 2, HOP):
        midi = float(detector(recording.slice(at, at + HOP))[0])
        if at >= start + WINDOW - HOP:
            found.append(midi if detector.get_confidence() >= LEAST_CONFIDENCE else np.nan)
    midis = np.array(found)
    if not len(midis) or not np.isfinite(midis).any():
        return None
    middle = float(np.nanmedian(midis))
    near = np.abs(midis - middle) * 100.0 <= STEADY_CENTS
    return middle if near.mean() >= LEAST_SHARE else None
