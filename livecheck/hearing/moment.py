"""The sound just before and just after an onset: what is there, and what is new."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.onset import Onset
from livecheck.hearing.partials import PARTIALS, WEIGHTS, Peaks, free_partials, hz, support
from livecheck.hearing.spectrum import Spectrogram

BEFORE_S = 0.05
AFTER_S = 0.045
LONGEST_S = 0.13
LOWEST_NEW_BIN = 5
"""Below (59 Hz) lie hum and rumble."""
SEARCH_CENTS = 60.0
STEP_CENTS = 10.0
LEAST_GAIN_DB, FULL_GAIN_DB = 1.0, 6.0
MOST_LOSS_DB = -6.0
"""A string struck again more softly than it rang may lose so much."""
LEAST_RISE, FULL_RISE = 0.15, 0.35
"""An attack so clear speaks for a string that was ringing at the same pitch and gained little."""


@dataclass(frozen=True)
class Evidence:
    """What an onset says for a string at a pitch."""

    midi: float
    presence: float
    free: float
    gain_db: float
    """How much its free partials grew."""
    level_db: float
    """Its strongest free partial of the first three, relative to the strongest of the whole."""


@dataclass(frozen=True)
class Moment:
    onset: Onset
    before: NDArray[np.float32]
    """Magnitudes up to the onset."""
    after: NDArray[np.float32]
    """Mean magnitudes from the onset on."""
    peaks: Peaks

    @classmethod
    def at(cls, onset: Onset, until_s: float, spectra: Spectrogram) -> Moment:
        """The moment of an onset whose sound lasts until `until_s` (the next onset, at the latest)."""
        stop_s = max(onset.time_s + AFTER_S, min(onset.time_s + LONGEST_S, until_s - AFTER_S))
        first, last = spectra.frame_at(onset.time_s + AFTER_S), spectra.frame_at(stop_s)
        after = spectra.magnitudes[first : max(last, first) + 1].mean(axis=0)
        before = spectra.magnitudes[spectra.frame_at(onset.time_s - BEFORE_S)]
        return cls(onset, before, after, Peaks.of(after, spectra.bin_hz))

    @property
    def loud_db(self) -> float:
        """Level of everything after the onset."""
        return float(10.0 * np.log10(max(float((self.after * self.after).sum()), 1e-14)))

    @property
    def new_db(self) -> float:
        """Level of what the onset brought."""
        grown = np.maximum(self.after.astype(np.float64) ** 2 - self.before.astype(np.float64) ** 2, 0.0)
        return float(10.0 * np.log10(max(float(grown[LOWEST_NEW_BIN:].sum()), 1e-14)))

    def evidence(self, midi: float, others: Sequence[float], within_cents: float = SEARCH_CENTS) -> Evidence:
        """What speaks for a string near a pitch, given the others that sound with it."""
        steps = np.arange(-within_cents, within_cents + 1e-9, STEP_CENTS) / 100.0
        found = support(self.peaks, midi + steps, others)
        best = int(np.argmax(found.presence - 1e-3 * np.abs(steps)))
        at = midi + float(steps[best])
        gain_db, level_db = self._growth(at, others)
        return Evidence(at, float(found.presence[best]), float(found.free[best]), gain_db, level_db)

    def _growth(self, midi: float, others: Sequence[float]) -> tuple[float, float]:
        """Growth of the free partials, weighted median over those that are there now (0 if none is), and their
        level."""
        free = free_partials(np.array([midi]), others, self.peaks.bin_hz)[0]
        bins = np.rint(float(hz(np.array(midi))) * np.arange(1, PARTIALS + 1) / self.peaks.bin_hz).astype(int)
        bins = np.clip(bins, 1, len(self.after) - 2)
        now = np.maximum.reduce([self.after[bins + d] for d in (-1, 0, 1)])
        then = np.maximum.reduce([self.before[bins + d] for d in (-1, 0, 1)])
        loudest = float(self.after.max())
        weight = WEIGHTS * free * (now > 10.0 ** (-50.0 / 20.0) * loudest)
        level_db = float(20.0 * np.log10(max(float((now * free)[:3].max()), 1e-9) / max(loudest, 1e-9)))
        if weight.sum() <= 0.0:
            return 0.0, level_db
        gains = 20.0 * np.log10(np.maximum(now, 1e-7) / np.maximum(then, 1e-7))
        order = np.argsort(gains)
        middle = np.searchsorted(np.cumsum(weight[order]), 0.5 * weight.sum())
        return float(gains[order][middle]), level_db

    def struck(self, evidence: Evidence) -> float:
        """0 to 1: whether the string was struck at this onset."""
        grown = np.clip((evidence.gain_db - LEAST_GAIN_DB) / (FULL_GAIN_DB - LEAST_GAIN_DB), 0.0, 1.0)
        attacked = np.clip((self.onset.rise - LEAST_RISE) / (FULL_RISE - LEAST_RISE), 0.0, 1.0) * (
            evidence.gain_db > MOST_LOSS_DB
        )
        return evidence.presence * float(max(grown, 0.7 * attacked))
