"""The way of the bar under all strings that ring: what it does to one it does to all, so all of them together tell.

A string alone can be mistaken for its neighbour; all of them, at their distances, cannot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.best_path import STEP_CENTS, best_paths
from livecheck.hearing.curves.quest import Quest
from livecheck.hearing.curves.track import PARTIALS, WEIGHTS, free_of_others
from livecheck.hearing.median import nearest_middle
from livecheck.hearing.sound.partials import hz

BAR_STEPS = 13
"""How far the bar is looked for from where it should be: 2.6 semitones to each side."""
FAR = np.linspace(-BAR_STEPS, BAR_STEPS, 2 * BAR_STEPS + 1) * (STEP_CENTS / 100.0)
NEAR = np.linspace(-0.6, 0.6, 7)
"""Semitones around a guess in which a string is as good as there."""
HOME_BONUS = 0.05
HOME_CENTS = 60.0
PARTED_SEMITONES = 0.5
RESTED_FRAMES = 9
"""A tenth of a second without a step of the bar ends a move: the player's way may halt on its way."""
AT_FIRST_FRAMES = 24
"""A chord that does not stand for the first quarter of a second is not looked at any longer."""
STOOD_MORE = 1.1
"""So many times more of all strings must be there where they were than wherever near its goal the bar may have gone:
what leaves is gone from there within a frame or two, and a chord that stands is there with all its partials."""


def along_the_bar(clean: NDArray[np.float32], quests: Sequence[Quest], bin_hz: float) -> list[Quest]:
    """Move all guesses by what the bar did elsewhere than written: one offset for all strings, found jointly."""
    if not quests:
        return []
    first, stop = min(quest.first for quest in quests), max(quest.stop for quest in quests)
    sought = _as_it_stood(clean, [_Sought(quest, _near(clean, quest, bin_hz)) for quest in quests], bin_hz)
    evidence = _of_all(sought, first, stop) + np.where(np.abs(FAR) * 100.0 <= HOME_CENTS, HOME_BONUS, 0.0)
    drift = FAR[best_paths([evidence.astype(np.float32)])[0]]
    return [replace(q, guess=q.guess + drift[q.first - first : q.stop - first]) for q in (one.quest for one in sought)]


@dataclass(frozen=True)
class _Sought:
    """A string, and how much of it is there."""

    quest: Quest
    there: NDArray[np.float64]
    """If it is off its guess by each of some offsets, shape (frames of its life, offsets)."""


def _near(clean: NDArray[np.float32], quest: Quest, bin_hz: float) -> NDArray[np.float64]:
    return evidence_near(clean[quest.first : quest.stop], quest.guess, FAR, bin_hz)


def _of_all(sought: Sequence[_Sought], first: int, stop: int) -> NDArray[np.float64]:
    """How much of some strings, of those that sound, is there if all are off their guesses by each offset; `first` and
    `stop`: the frames in which they lie; shape (stop - first, offsets)."""
    total = np.zeros((stop - first, sought[0].there.shape[1]))
    count = np.zeros((stop - first, 1))
    for one in sought:
        frames = slice(one.quest.first - first, one.quest.stop - first)
        total[frames] += one.there
        count[frames] += 1.0
    return total / np.maximum(count, 1.0)


def _as_it_stood(clean: NDArray[np.float32], sought: Sequence[_Sought], bin_hz: float) -> list[_Sought]:
    """The same strings, where the bar is guessed to leave with several guessed to be where they were for as long as
    more of all of them is there than wherever it may have gone.

    Of a chord that stands, those partials that lie where some of its strings should go speak for a bar that went there,
    or near it: a grip shares many with itself a fourth higher. Each string by itself would go to the nearest of them.
    """
    found = list(sought)
    asked = [place for place, one in enumerate(sought) if one.quest.written is not None]
    first, bar = _way([sought[place].quest for place in asked])
    moving = np.flatnonzero(np.diff(bar, prepend=0.0))
    begins = moving[np.diff(moving, prepend=-RESTED_FRAMES) > RESTED_FRAMES]
    for begin, until in pairwise([*begins.tolist(), len(bar)]):
        ringing = [p for p in asked if sought[p].quest.first < first + begin < sought[p].quest.stop]
        if len(ringing) < 2:
            continue
        gone = bar[begin:until] - bar[begin - 1]
        went = [_between(sought[p].quest, first + begin, first + until) for p in ringing]
        lines = [_kept(found[p].quest, sought[p].quest, first + begin, gone) for p in ringing]
        if max(np.abs(line - quest.guess).max() for line, quest in zip(lines, went, strict=True)) < PARTED_SEMITONES:
            continue
        for frames in (min(AT_FIRST_FRAMES, until - begin), until - begin):
            left = _stood(clean, went, lines, first + begin, first + begin + frames, bin_hz)
            if left < frames:
                break
        if left:
            for place, line in zip(ringing, lines, strict=True):
                found[place] = _guessed(clean, found[place].quest, first + begin, line[:left], bin_hz)
    return found


def _stood(
    clean: NDArray[np.float32],
    went: Sequence[Quest],
    lines: Sequence[NDArray[np.float64]],
    first: int,
    stop: int,
    bin_hz: float,
) -> int:
    """For how many frames from one on, before another, more of some strings is there where they were (`lines`) than
    wherever they may have gone; 0 if nowhere clearly."""
    there = [_between(quest, first, stop) for quest in went]
    here = [replace(quest, guess=line[: len(quest.guess)]) for line, quest in zip(lines, there, strict=True)]
    stayed, gone = (
        _along(_jointly(clean, some, first, stop, near, bin_hz)) for some, near in ((here, NEAR), (there, FAR))
    )
    left = 1 + int(np.argmax(np.cumsum(stayed - gone)))
    return left if stayed[:left].sum() > STOOD_MORE * gone[:left].sum() else 0


def _jointly(
    clean: NDArray[np.float32],
    quests: Sequence[Quest],
    first: int,
    stop: int,
    offsets: NDArray[np.float64],
    bin_hz: float,
) -> NDArray[np.float64]:
    """The same of the partials that the strings call for, one that several of them share once; a string of many shared
    ones counts for less."""
    guesses = np.full((len(quests), stop - first), np.nan)
    for row, quest in zip(guesses, quests, strict=True):
        row[quest.first - first : quest.stop - first] = quest.guess
    tones = hz(guesses)
    total, whole = np.zeros((stop - first, len(offsets))), np.zeros((stop - first, 1))
    for at, (quest, own) in enumerate(zip(quests, tones, strict=True)):
        targets = own[:, None] * np.arange(1, PARTIALS + 1)
        beside = np.delete(tones, at, axis=0)
        having = 1.0 + np.array([~free_of_others(targets, [other], bin_hz) for other in beside]).sum(axis=0)
        frames = slice(quest.first - first, quest.stop - first)
        shares = (WEIGHTS / having)[frames]
        there = _partials_near(clean[quest.first : quest.stop], quest.guess, offsets, bin_hz)
        total[frames] += np.einsum("fpo,fp->fo", there, shares)
        whole[frames] += shares.sum(axis=1, keepdims=True)
    return total / np.maximum(whole, 1e-9)


def _kept(found: Quest, quest: Quest, begin: int, gone: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where a string is from a frame on if the bar does not go on: where it was found before, but for what its own
    pedal does to it; shape (frames that it has of those of `gone`,)."""
    at = begin - quest.first
    own = quest.guess[at : at + len(gone)] - quest.guess[at - 1]
    return np.asarray(found.guess[at - 1] + own - gone[: len(own)])


def _guessed(clean: NDArray[np.float32], quest: Quest, begin: int, line: NDArray[np.float64], bin_hz: float) -> _Sought:
    """A string that is guessed to be elsewhere from a frame on."""
    guess = quest.guess.copy()
    guess[begin - quest.first : begin - quest.first + len(line)] = line
    moved = replace(quest, guess=guess)
    return _Sought(moved, _near(clean, moved, bin_hz))


def _way(quests: Sequence[Quest]) -> tuple[int, NDArray[np.float64]]:
    """From which frame on, and how far, the bar is guessed to have gone: as far as the strings under it that ring, of
    which the middle one tells."""
    first, stop = min((q.first for q in quests), default=0), max((q.stop for q in quests), default=0)
    steps = np.full((len(quests), stop - first), np.nan)
    for row, quest in zip(steps, quests, strict=True):
        row[quest.first + 1 - first : quest.stop - first] = np.diff(quest.guess)
    return first, nearest_middle(steps).cumsum()


def _between(quest: Quest, first: int, stop: int) -> Quest:
    """What is sought between two frames of a string that sounds there."""
    low, high = max(first, quest.first), min(stop, quest.stop)
    return replace(quest, first=low, stop=high, guess=quest.guess[low - quest.first : high - quest.first])


def _along(there: NDArray[np.float64]) -> NDArray[np.float64]:
    """How much is there on the best path through some offsets, shape (frames, offsets) -> (frames,)."""
    return there[np.arange(len(there)), best_paths([there.astype(np.float32)])[0]]


def evidence_near(
    clean: NDArray[np.float32], guess: NDArray[np.float64], offsets: NDArray[np.float64], bin_hz: float
) -> NDArray[np.float64]:
    """Share of a string's partials that is there if it is off its guess by each offset; shape (frames, offsets)."""
    return np.asarray(np.einsum("fpo,p->fo", _partials_near(clean, guess, offsets, bin_hz), WEIGHTS) / WEIGHTS.sum())


def _partials_near(
    clean: NDArray[np.float32], guess: NDArray[np.float64], offsets: NDArray[np.float64], bin_hz: float
) -> NDArray[np.float32]:
    """How much of each of a string's partials is there if it is off its guess by each offset; shape (frames, PARTIALS,
    offsets)."""
    alike, firsts = runs(guess[None, :])
    f0 = hz(guess[firsts])[:, None, None] * 2.0 ** (offsets / 12.0)
    bins = np.minimum(f0 * np.arange(1, PARTIALS + 1)[:, None] / bin_hz, clean.shape[1] - 1.001)
    whole = bins.astype(int)
    part = (bins - whole).astype(np.float32)[alike]
    whole = whole[alike] + clean.shape[1] * np.arange(len(clean))[:, None, None]
    return np.asarray(clean.take(whole) * (1.0 - part) + clean.take(whole + 1) * part)


def runs(rows: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """For each frame the number of the run of equal frames that it belongs to, and the first frame of each run; shape
    (n, frames) -> (frames,), (runs,)."""
    before, after = rows[:, :-1], rows[:, 1:]
    begins = np.ones(rows.shape[1], dtype=bool)
    begins[1:] = ((before != after) & ~(np.isnan(before) & np.isnan(after))).any(axis=0)
    return np.cumsum(begins) - 1, np.flatnonzero(begins)
