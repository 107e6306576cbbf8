"""The sound just before and just after an onset: what is there, and what is new."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.sound.mixing import mixtures
from livecheck.hearing.sound.onset import Onset
from livecheck.hearing.sound.partials import (
    GUARD_BINS,
    NO_TONES,
    PARTIALS,
    WEIGHTS,
    Peaks,
    free_of,
    free_partials,
    hz,
    partials_hz,
    support,
    support_of,
)
from livecheck.hearing.sound.spectrum import Spectrogram, loudest_near
from livecheck.lesson.pitch import hz_of

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
LEAST_UNMIXED = 0.3
"""With less than that free of mixtures nothing is missed."""
LOW_GUARDS = 4.0
"""Of a string whose partials lie closer, in widths that one of them needs, another string leaves too few free; of one
that was asked for so many others leave only just enough if its partials lie closer by that for each of them. What
nobody asked for, unless it is low, has to show in the shorter window, which hears less of what others play soon after.
"""
LEAST_RISE, FULL_RISE = 0.15, 0.35
"""An attack so clear speaks for a string that was ringing at the same pitch and gained little."""
LEAST_OVERTONES = 2
OWN_BINS = 1.6
"""So near to a partial lies nearly all of it."""


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


def frames_at(onset: Onset, until_s: float, spectra: Spectrogram) -> tuple[int, int, int]:
    """The frame just before an onset whose sound lasts until `until_s`, and the first and the last just after it."""
    stop_s = max(onset.time_s + AFTER_S, min(onset.time_s + LONGEST_S, until_s - AFTER_S))
    first, last = spectra.frame_at(onset.time_s + AFTER_S), spectra.frame_at(stop_s)
    return spectra.frame_at(onset.time_s - BEFORE_S), first, max(first, last)


def _is_of(bins_hz: NDArray[np.float64], midis: Sequence[float], within_hz: float) -> NDArray[np.bool_]:
    """Which frequencies are near a partial of any of some pitches."""
    f0 = hz(np.array(midis, dtype=np.float64))[:, None]
    partials = np.maximum(np.rint(bins_hz / f0), 1.0) * f0
    return np.asarray((np.abs(bins_hz - partials) < within_hz).any(axis=0))


def steps_within(cents: float) -> NDArray[np.float64]:
    """The semitones around a pitch at which it is looked for."""
    return np.arange(-cents, cents + 1e-9, STEP_CENTS) / 100.0


def low_hz(bin_hz: float) -> float:
    """Below this the partials of a string lie so close that they leave another one little, and another one them."""
    return LOW_GUARDS * GUARD_BINS * bin_hz


def deep_frame_at(onset: Onset, deep: Spectrogram) -> int:
    """The frame of a longer window after an onset."""
    return deep.frame_at(onset.time_s + 2.0 * AFTER_S)


@dataclass(frozen=True)
class Moment:
    onset: Onset
    before: NDArray[np.float32]
    """Magnitudes up to the onset."""
    after: NDArray[np.float32]
    """Mean magnitudes from the onset on."""
    peaks: Peaks
    driven: bool = False
    """Whether strings that sound together give sums and differences too."""
    deep: Peaks | None = None
    """The peaks of a longer window, by which strings are told apart whose partials lie close."""
    _told: dict[tuple[tuple[float, ...], tuple[float, ...], float, int], list[Evidence]] = field(
        default_factory=dict, init=False, repr=False
    )
    """What was asked of it so far: half of it is asked again, at the next look at a figure."""

    @classmethod
    def at(cls, onset: Onset, until_s: float, spectra: Spectrogram, deep: Spectrogram | None = None) -> Moment:
        """The moment of an onset whose sound lasts until `until_s` (the next onset, at the latest). `deep`: spectra of
        twice the window."""
        before, first, last = frames_at(onset, until_s, spectra)
        after = spectra.rows(first, last + 1).mean(axis=0)
        peaks = Peaks.of(after, spectra.bin_hz)
        if deep is None:
            return cls(onset, spectra.row(before).copy(), after, peaks)
        low = deep.row(deep_frame_at(onset, deep))
        return cls(onset, spectra.row(before).copy(), after, peaks, deep=Peaks.of(low, deep.bin_hz))

    @property
    def loud_db(self) -> float:
        """Level of everything after the onset."""
        return float(10.0 * np.log10(max(float((self.after * self.after).sum()), 1e-14)))

    @cached_property
    def loudest(self) -> float:
        """The largest magnitude after the onset."""
        return float(self.after.max())

    @cached_property
    def new_db(self) -> float:
        """Level of what the onset brought."""
        return float(10.0 * np.log10(max(float(self._new.sum()), 1e-14)))

    @cached_property
    def _new(self) -> NDArray[np.float64]:
        """Power that the onset brought; of shape `after`, nothing below `LOWEST_NEW_BIN`."""
        grown = np.maximum(self.after.astype(np.float64) ** 2 - self.before.astype(np.float64) ** 2, 0.0)
        grown[:LOWEST_NEW_BIN] = 0.0
        return grown

    def brought(self, midis: Sequence[float], others: Sequence[float]) -> tuple[float, float]:
        """Level, in dB, of what the onset brought near the partials of some pitches, in driven sound also near what
        these mix to; and its share, 0 to 1, in all that it brought where others have no partials."""
        bins_hz = self.peaks.bin_hz * np.arange(len(self._new), dtype=np.float64)
        is_own = _is_of(bins_hz, midis, OWN_BINS * self.peaks.bin_hz)
        if self.driven and len(mixed_hz := mixtures(midis)):
            is_own |= (np.abs(bins_hz[:, None] - mixed_hz) < OWN_BINS * self.peaks.bin_hz).any(axis=1)
        own = self._new * is_own
        free = ~_is_of(bins_hz, others, GUARD_BINS * self.peaks.bin_hz)
        own_db = 10.0 * np.log10(max(float(own.sum()), 1e-14))
        return float(own_db), float(own[free].sum() / max(float(self._new[free].sum()), 1e-14))

    def brought_alone(self, midi: float, others: Sequence[float]) -> tuple[float, float]:
        """Of what the onset brought near the partials of a pitch and of none of some others, the share, 0 to 1, in all
        that it brought where these have none, and in all that it brought."""
        bins_hz = self.peaks.bin_hz * np.arange(len(self._new), dtype=np.float64)
        left = self._new * ~_is_of(bins_hz, others, GUARD_BINS * self.peaks.bin_hz)
        own = float((left * _is_of(bins_hz, [midi], OWN_BINS * self.peaks.bin_hz)).sum())
        return own / max(float(left.sum()), 1e-14), own / max(float(self._new.sum()), 1e-14)

    def evidence(self, midi: float, others: Sequence[float], within_cents: float = SEARCH_CENTS) -> Evidence:
        """What speaks for a string near a pitch, given the others that sound with it."""
        return self.evidences([midi], others, within_cents)[0]

    def evidences(
        self, midis: Sequence[float], others: Sequence[float], within_cents: float, crowd: int = 1
    ) -> list[Evidence]:
        """The same for some pitches, each by itself; `crowd`: how many others crowd it."""
        asked = tuple(midis), tuple(others), within_cents, crowd
        if asked not in self._told:
            self._told[asked] = self._evidences(*asked)
        return self._told[asked]

    def _evidences(
        self, midis: Sequence[float], others: Sequence[float], within_cents: float, crowd: int
    ) -> list[Evidence]:
        steps = steps_within(within_cents)
        near = np.array(midis)[:, None] + steps
        mixed_hz = self._mixed_hz(others)
        targets_hz = partials_hz(near.ravel())
        is_free = free_of(targets_hz, others, self.peaks.bin_hz, mixed_hz)
        found = support_of(self.peaks, targets_hz, is_free)
        presence, free = found.presence.reshape(near.shape), found.free.reshape(near.shape)
        low = hz(near[:, 0]) < crowd * low_hz(self.peaks.bin_hz)
        if self.deep is not None and low.any():
            found = support(self.deep, near[low].ravel(), others, mixed_hz)
            presence[low], free[low] = found.presence.reshape(-1, len(steps)), found.free.reshape(-1, len(steps))
        best = np.arange(len(near)), np.argmax(presence - 1e-3 * np.abs(steps), axis=1)
        targets_hz, is_free = (each.reshape(*near.shape, PARTIALS)[best] for each in (targets_hz, is_free))
        values = (near[best], presence[best], free[best], *self._growth(targets_hz, is_free))
        return [Evidence(*one) for one in zip(*(value.tolist() for value in values), strict=True)]

    def evidence_for_asked(self, midi: float, others: Sequence[float]) -> Evidence:
        """What speaks for a string that was asked for: where mixtures leave too little of it, they are taken for its
        own."""
        # In driven sound what others mix to stands in the room that they leave, the more of it in the longer window.
        crowd = 1 if self.driven else max(1, len(others))
        found = self.evidences([midi], others, SEARCH_CENTS, crowd)[0]
        if self.driven and found.free < LEAST_UNMIXED:
            return replace(self, driven=False).evidence(midi, others)
        return found

    def is_low(self, midi: float) -> bool:
        """Whether a string's partials lie so close that they leave another one little, and another one them."""
        return hz_of(midi) < low_hz(self.peaks.bin_hz)

    def overtones(self, midi: float, others: Sequence[float], within_cents: float) -> float | None:
        """0 to 1: how clearly what others leave free of a string above its lowest partial is there; None where fewer
        than two partials are left."""
        near = midi + steps_within(within_cents)
        peaks = self.deep if self.deep is not None and self.is_low(midi) else self.peaks
        tones_hz = np.append(self._mixed_hz(others), hz(np.array(midi)))
        if free_partials(np.array([midi]), others, peaks.bin_hz, tones_hz).sum() < LEAST_OVERTONES:
            return None
        return float(support(peaks, near, others, tones_hz).presence.max())

    def deep_presence(self, midi: float, others: Sequence[float], within_cents: float) -> float:
        """0 to 1: how clearly what others leave free of a string is there in the longer window, which tells partials
        apart that lie half as far from each other; 0 where there is none."""
        if self.deep is None:
            return 0.0
        near = midi + steps_within(within_cents)
        return float(support(self.deep, near, others, self._mixed_hz(others)).presence.max())

    def _mixed_hz(self, midis: Sequence[float]) -> NDArray[np.float64]:
        return mixtures(midis) if self.driven else NO_TONES

    def _growth(
        self, targets_hz: NDArray[np.float64], free: NDArray[np.bool_]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """For each pitch the growth of its free partials, the weighted median over those that are there now (0 if none
        is), and their level; where its partials are and which are free, shape (pitches, PARTIALS)."""
        now, then = (loudest_near(row, targets_hz, self.peaks.bin_hz) for row in (self.after, self.before))
        loudest = self.loudest
        weight = WEIGHTS * free * (now > 10.0 ** (-50.0 / 20.0) * loudest)
        top = (now * free)[:, :3].max(axis=1).astype(np.float64)
        level_db = 20.0 * np.log10(np.maximum(top, 1e-9) / max(loudest, 1e-9))
        gains_db = 20.0 * np.log10(np.maximum(now, 1e-7) / np.maximum(then, 1e-7))
        order = np.argsort(gains_db, axis=1)
        rows = np.arange(len(free))
        total = weight.sum(axis=1)
        summed = np.cumsum(weight[rows[:, None], order], axis=1)
        middle = order[rows, (summed < 0.5 * total[:, None]).sum(axis=1) % PARTIALS]
        gain_db = gains_db[rows, middle]
        return np.where(total > 0.0, gain_db, 0.0), level_db

    def struck(self, evidence: Evidence, uncovered: bool = False) -> float:
        """0 to 1: whether the string was struck at this onset. `uncovered`: its partials were another string's before,
        which has gone, so that it says nothing how much they lost."""
        grown = (evidence.gain_db - LEAST_GAIN_DB) / (FULL_GAIN_DB - LEAST_GAIN_DB)
        attacked = (self.onset.rise - LEAST_RISE) / (FULL_RISE - LEAST_RISE)
        attacked *= uncovered or evidence.gain_db > MOST_LOSS_DB
        return evidence.presence * max(min(grown, 1.0), 0.7 * min(attacked, 1.0), 0.0)
