"""What lies between a pedal and a loudspeaker's cone: a compressor, a driven amplifier, a cabinet."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.bench.bank import RATE_HZ
from tests.bench.passband import loss

Samples = NDArray[np.float64]
STEP = 48
"""Samples for which a compressor's gain is worked out at a time: 1 ms."""
ATTACK_S, RELEASE_S = 0.010, 0.150
BASS_HZ, PRESENCE_HZ, PRESENCE_OCTAVES, PRESENCE_DB, TREBLE_HZ = 80.0, 2500.0, 0.7, 4.0, 4500.0
"""A twelve-inch guitar loudspeaker in a box, roughly (common practice, no source)."""


def compressed(sound: Samples, over_db: float, ratio: float) -> Samples:
    """Turned down where it is loud: what is above a threshold, so far below the loudest, comes out by a ratio less.

    A feed-forward compressor with a smoothed, branching detector in decibels; Giannoulis, Massberg and Reiss, "Digital
    dynamic range compressor design: a tutorial and analysis" (JAES 60, 2012), equation 17 among others.
    """
    steps = -(-len(sound) // STEP)
    loud = np.abs(np.pad(sound, (0, steps * STEP - len(sound)))).reshape(steps, STEP).max(axis=1)
    level_db = 20.0 * np.log10(np.maximum(loud, 1e-6))
    above_db = np.maximum(level_db - (float(level_db.max()) - over_db), 0.0)
    wanted_db = (1.0 - 1.0 / ratio) * above_db
    taken_db = np.zeros(steps)
    attack, release = (float(np.exp(-STEP / RATE_HZ / seconds)) for seconds in (ATTACK_S, RELEASE_S))
    last = 0.0
    for step, wanted in enumerate(wanted_db.tolist()):
        keep = attack if wanted > last else release
        last = keep * last + (1.0 - keep) * wanted
        taken_db[step] = last
    gain_db = np.interp(np.arange(len(sound)), (np.arange(steps) + 0.5) * STEP, -taken_db)
    return np.asarray(sound * 10.0 ** (gain_db / 20.0))


def driven(sound: Samples, drive: float) -> Samples:
    """A soft limiter, a little one-sided, so that even harmonics and differences come too."""
    bent = drive * sound / np.percentile(np.abs(sound), 99.5)
    return np.asarray(np.tanh(bent + 0.15) - np.tanh(0.15))


def in_cabinet(sound: Samples) -> Samples:
    """A loudspeaker's band, and a broad peak in it."""
    spectrum = np.fft.rfft(sound)
    hz = np.maximum(np.fft.rfftfreq(len(sound), 1.0 / RATE_HZ), 1e-3)
    octaves = np.log2(hz / PRESENCE_HZ) / PRESENCE_OCTAVES
    spectrum *= 10.0 ** (PRESENCE_DB / 20.0 * np.exp(-(octaves**2)))
    spectrum /= loss(hz, BASS_HZ, TREBLE_HZ)
    return np.fft.irfft(spectrum, len(sound))
