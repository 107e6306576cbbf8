"""Vibrato taken off a pitch curve, so that what is left is its centre.

What a curve has beyond its levels and straight glides is looked through for one slow sine, whose strength and phase
may drift: complex demodulation at the frequency that holds the most (Bingham, Godfrey & Tukey, "Modern techniques of
power spectrum estimation", 1967).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.median import median

HIGHEST_HZ = 8.0
RATES_HZ = np.arange(3.5, HIGHEST_HZ + 1e-9, 0.5)
LEAST_CENTS, MOST_CENTS = 2.0, 60.0
LEAST_SHARE = 0.3
"""Of the deviation that the sine must account for."""
CANDIDATES = 3
"""So many rates, those of which a curve holds most, are looked at closely."""
SLID_S = 0.5 / float(RATES_HZ[0])
"""Half a swing of the slowest vibrato. What a string does no longer than that, before it is at its centre for the first
time, may be a slide into its pick, which looks like a swing."""
CYCLES = 2.2
"""Length of the window over which strength and phase are taken."""


def vibrato_of(rest_cents: NDArray[np.float64], step_s: float) -> NDArray[np.float64]:
    """The vibrato in what a curve has beyond its model; same shape, zeros if there is none.

    `rest_cents` is sampled every `step_s`; where it deviates by more than `MOST_CENTS` the string is elsewhere, and
    nothing is taken off, nor before the string is at its centre for the first time, if it is soon.
    """
    if not len(rest_cents):
        return np.zeros_like(rest_cents)
    first = rest_cents[: round(SLID_S / step_s)] - median(rest_cents)
    there = np.flatnonzero(first * first[:1] <= 0.0)
    came = int(there[0]) if len(there) else 0
    return np.concatenate((np.zeros(came), _swings(rest_cents[came:], step_s)))


def _swings(rest_cents: NDArray[np.float64], step_s: float) -> NDArray[np.float64]:
    """The vibrato in what a curve has beyond its model, from its first point on."""
    none = np.zeros_like(rest_cents)
    if len(rest_cents) * step_s < 1.5 / HIGHEST_HZ:
        return none
    rest = rest_cents - median(rest_cents)
    near = np.abs(rest) <= MOST_CENTS
    rest = np.where(near, rest, 0.0)
    power = float(np.mean(rest**2))
    if np.sqrt(2.0 * power) < LEAST_CENTS:
        return none
    best, most = none, 0.0
    turns = _turns(step_s, 1 << len(rest).bit_length())[:, : len(rest)]
    # Not as a product of matrices: for so small a one a second thread costs more than it helps.
    for row in np.argsort(np.abs(np.einsum("ij,j->i", turns, rest)))[-CANDIDATES:]:
        sine = _sine(rest, near, turns[row], round(CYCLES / float(RATES_HZ[row]) / step_s))
        left = float(np.mean((rest - sine) ** 2))
        share = 1.0 - left / max(power, 1e-9)
        if share > most:
            best, most = sine, share
    strong = float(np.sqrt(2.0 * np.mean(best**2))) >= LEAST_CENTS
    return best if strong and most >= LEAST_SHARE else none


@lru_cache(maxsize=16)
def _window(size: int) -> NDArray[np.float64]:
    """A Hann window of so many points, none of them 0."""
    return np.asarray(np.hanning(size + 2)[1:-1])


@lru_cache(maxsize=16)
def _turns(step_s: float, count: int) -> NDArray[np.complex128]:
    """A turn backwards at each rate, shape (rates, count)."""
    return np.asarray(np.exp(-2j * np.pi * step_s * np.outer(RATES_HZ, np.arange(count))))


def _sine(
    rest: NDArray[np.float64], near: NDArray[np.bool_], turn: NDArray[np.complex128], size: int
) -> NDArray[np.float64]:
    """The part of a curve near one frequency, strength and phase free to drift over `size` points; only where
    `near`."""
    if size > len(rest):
        return np.asarray(np.real(2.0 * np.mean(rest * turn) * turn.conj()) * near)
    window = _window(size)
    weight = np.convolve(near.astype(np.float64), window, mode="same")
    base = np.convolve(rest * turn, window, mode="same") / np.maximum(weight, 1e-9)
    return np.asarray(np.real(2.0 * base * turn.conj()) * near)
