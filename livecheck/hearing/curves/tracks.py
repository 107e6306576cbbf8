"""The pitch of each ringing string through time, all strings together.

Each string's track is the best path through the salience of its own free partials: those that no other string's track
has nearby at that moment. Tracks are found in turn, each given the others, twice; so a string cannot jump to its
neighbour's pitch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.bar import (
    HOME_BONUS,
    HOME_CENTS,
    NEAR,
    PARTED_SEMITONES,
    along_the_bar,
    evidence_near,
    runs,
)
from livecheck.hearing.curves.best_path import STEP_CENTS, best_paths
from livecheck.hearing.curves.quest import Quest, shared
from livecheck.hearing.curves.track import PARTIALS, WEIGHTS, Track, free_of_others, refined
from livecheck.hearing.median import nearest_middle
from livecheck.hearing.sound.partials import hz, shadows
from livecheck.hearing.sound.salience import compressed
from livecheck.hearing.sound.spectrum import Spectrogram

ALONG_BONUS, ALONG_SHARE = np.float32(0.1), np.float32(0.8)
"""For being as far off the guess as the strings beside it: they lie under the same bar. Where a string is heard at
another of its settled pitches it is never more than a share of that, or a soft one that stays would be taken along."""
CORRIDOR_SEMITONES = 1.3
"""A string that hides behind a lower one is looked for only near where it should be, or where the bar has taken the
others, or it would be drawn down."""
HIDDEN_SHARE = 0.7
FORBIDDEN = -2.0
LEAST_GAIN = 0.05
"""By which the figure's line must be there more clearly than the player's way: what is left of silence is less."""
PARTIAL_BINS, LEFT_OUT = np.arange(-2, 3), 24
"""Around its middle, over which a partial spreads; and how many partials of a string are left out."""
FAR_SEMITONES = 3.2
"""Tracks may leave the span of the expected pitches by so much."""
CHANGE_FRAMES, APART_SEMITONES, NEARER_SEMITONES = 24, 0.5, 0.5
"""Where two tracks cross, they are compared so many frames before and after, if they are so far apart there. Strings
cross only where it is written, or where they have that much less to move than if each kept its side."""


def scaled(spectra: Spectrogram, first: int, stop: int) -> NDArray[np.float32]:
    """What tracks are found in: compressed spectra, each scaled to a maximum of 1, on frames first to stop; none on the
    others. Shape (frames of the spectra, bins)."""
    magnitudes = spectra.rows(first, stop)
    clean = np.zeros((len(spectra), magnitudes.shape[1]), dtype=np.float32)
    heard = compressed(magnitudes, clean[first:stop])
    heard /= np.maximum(heard.max(axis=1, keepdims=True), np.float32(1e-9))
    return clean


def track_all(
    spectra: Spectrogram, clean: NDArray[np.float32], quests: Sequence[Quest], rounds: int = 2
) -> list[Track]:
    """Track all strings jointly. `clean`: the same spectra `scaled`."""
    quests = along_the_bar(clean, _as_it_sounds(clean, quests, spectra.bin_hz), spectra.bin_hz)
    sought = [_Sought(clean, quest, spectra.bin_hz) for quest in quests]
    paths = [quest.guess for quest in quests]
    spans = [(quest.first, quest.stop) for quest in quests]
    beside = [[i for i, other in enumerate(quests) if i != at and one.meets(other)] for at, one in enumerate(quests)]
    behind = [[_behind(quest, quests[i]) for i in near] for quest, near in zip(quests, beside, strict=True)]

    def follow(some: Sequence[int], turn: int) -> None:
        """Follow some strings given all others as they were found so far."""
        evidence = []
        for index in some:
            every = [_together(quests[index], quests[i], paths[i]) for i in beside[index]]
            drift = _drift(quests[index], [(quests[i], paths[i]) for i in beside[index] if turn])
            evidence.append(sought[index].evidence(every, behind[index], drift))
        for index, places in zip(some, best_paths(evidence), strict=True):
            paths[index] = sought[index].grid[places]

    for turn in range(rounds):
        for row in side_by_side(spans):
            # What sounds alone has nothing to learn from the others, and is followed once.
            follow([i for i in row if beside[i] or turn == rounds - 1], turn)
    for index in change_back(quests, paths):
        follow([index], rounds - 1)
    seen = [
        _seen([_together(quest, quests[i], paths[i]) for i in near], hides)
        for quest, near, hides in zip(quests, beside, behind, strict=True)
    ]
    return refined(spectra, [quest.first for quest in quests], paths, seen)


def side_by_side(spans: Sequence[tuple[int, int]]) -> list[list[int]]:
    """The numbers of spans, those together that do not wait for each other: each comes after all before it that it
    meets."""
    row_of: list[int] = []
    for span in spans:
        met = [row for row, other in zip(row_of, spans, strict=False) if _meet(span, other)]
        row_of.append(1 + max(met, default=-1))
    return [[i for i, at in enumerate(row_of) if at == row] for row in range(max(row_of, default=-1) + 1)]


def change_back(quests: Sequence[Quest], paths: list[NDArray[np.float64]]) -> list[int]:
    """Give back to strings what two of them took of each other: from where they changed places until they do so again,
    unless that is what they should do, or they should have been in unison, which has no sides. Which strings did; each
    found the other's place taken."""
    changed = []
    for one, other in combinations(range(len(quests)), 2):
        here, there = shared(quests[one], quests[other])
        if here.start == here.stop:
            continue
        mine, its = paths[one][here], paths[other][there]
        crossed = _changes_of(mine, its)
        sides = np.abs(quests[one].guess[here] - quests[other].guess[there]) > APART_SEMITONES
        crossed = crossed[sides[crossed - CHANGE_FRAMES]]
        if len(crossed) and not len(_changes_of(quests[one].guess[here], quests[other].guess[there])):
            turns = crossed[np.diff(crossed, prepend=-CHANGE_FRAMES - 1) > CHANGE_FRAMES]
            kept = turns.searchsorted(np.arange(len(mine)), side="right") % 2 == 0
            paths[one], paths[other] = paths[one].copy(), paths[other].copy()
            paths[one][here], paths[other][there] = np.where(kept, mine, its), np.where(kept, its, mine)
            changed += [one, other]
    return changed


def _changes_of(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.int64]:
    """The frames from which on two paths have changed sides though that was no shorter than keeping them."""
    at = np.flatnonzero(np.diff(np.sign(one - other)) != 0) + 1
    at = at[(at >= CHANGE_FRAMES) & (at + CHANGE_FRAMES < len(one))]
    before, after = at - CHANGE_FRAMES, at + CHANGE_FRAMES
    moved = np.abs(one[after] - one[before]) + np.abs(other[after] - other[before])
    kept = np.abs(other[after] - one[before]) + np.abs(one[after] - other[before])
    apart = np.minimum(np.abs(one[before] - other[before]), np.abs(one[after] - other[after])) > APART_SEMITONES
    return np.asarray(at[apart & (kept - moved < NEARER_SEMITONES)])


def _meet(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one[0] < other[1] and other[0] < one[1]


def _together(quest: Quest, other: Quest, path: NDArray[np.float64]) -> NDArray[np.float64]:
    """Another string's frequencies on this one's frames; NaN where it does not sound."""
    out = np.full(quest.stop - quest.first, np.nan)
    here, there = shared(quest, other)
    out[here] = hz(path[there])
    return out


def _behind(quest: Quest, other: Quest) -> NDArray[np.bool_]:
    """Frames on which a string hides behind another one."""
    out = np.zeros(quest.stop - quest.first, dtype=bool)
    here, there = shared(quest, other)
    out[here] = shadows(other.guess[there], quest.guess[here])
    if quest.written is not None:
        line = other.guess if other.written is None else other.written
        out[here] &= shadows(line[there], quest.written[here])
    return out


def _seen(every: Sequence[NDArray[np.float64]], behind: Sequence[NDArray[np.bool_]]) -> list[NDArray[np.float64]]:
    """The frequencies of other strings; NaN where a string hides behind them."""
    return [np.where(hides, np.nan, tone) for tone, hides in zip(every, behind, strict=True)]


def _drift(quest: Quest, beside: Sequence[tuple[Quest, NDArray[np.float64]]]) -> NDArray[np.float64]:
    """By how much the strings beside one, each with its path, are off their guesses, frame by frame: what the one bar
    does to them, it does to all. The middle one tells; of two, the one that is off less; of none, nothing is off."""
    off = np.full((1 + len(beside), quest.stop - quest.first), np.nan)
    for row, (other, path) in enumerate(beside):
        here, there = shared(quest, other)
        off[row, here] = path[there] - other.guess[there]
    return nearest_middle(off)


class _Sought:
    """What the spectra hold for one quest, place by place of a grid of pitches; the same in every turn."""

    def __init__(self, clean: NDArray[np.float32], quest: Quest, bin_hz: float) -> None:
        self._quest = quest
        self._bin_hz = bin_hz
        homes = np.array(quest.homes)
        self.grid = np.arange(homes.min() - FAR_SEMITONES, homes.max() + FAR_SEMITONES, STEP_CENTS / 100.0)
        self._is_home = np.min(np.abs(self.grid[:, None] - homes), axis=1) * 100.0 <= HOME_CENTS
        self._bonus = np.where(self._is_home, np.float32(HOME_BONUS), np.float32(0.0))
        self._targets = (np.arange(1, PARTIALS + 1)[:, None] * hz(self.grid)).ravel()
        bins = self._targets / bin_hz
        self._shares = np.where(bins < clean.shape[1] - 2, np.repeat(WEIGHTS, len(self.grid)), 0.0)
        bins = np.minimum(bins, clean.shape[1] - 1.001)
        whole = bins.astype(int)
        part = (bins - whole).astype(np.float32)
        self._there = clean[quest.first : quest.stop].take(whole, axis=1)
        self._there += (clean[quest.first : quest.stop].take(whole + 1, axis=1) - self._there) * part

    def evidence(
        self,
        every: Sequence[NDArray[np.float64]],
        behind: Sequence[NDArray[np.bool_]],
        drift: NDArray[np.float64] | None,
    ) -> NDArray[np.float32]:
        """What speaks for the string at each place of the grid, shape (frames, grid).

        `every`: the frequencies of the strings beside it; `behind`: where it hides behind each. There, what it would
        share counts for less than what is its own, or it would be thought to hide before it does.
        """
        grid, guess = self.grid, self._quest.guess
        evidence = self._evidence(self._there, _seen(every, behind))
        hidden = np.logical_or.reduce(behind, axis=0)
        if hidden.any():
            own = self._evidence(self._there[hidden], [other[hidden] for other in every])
            evidence[hidden] = np.maximum(own, HIDDEN_SHARE * evidence[hidden])
            near = np.abs(grid - guess[:, None]) <= CORRIDOR_SEMITONES
            if drift is not None:
                near |= np.abs(grid - (guess + drift)[:, None]) <= CORRIDOR_SEMITONES
            evidence[hidden[:, None] & ~near] = FORBIDDEN
        if drift is not None:
            along = np.abs(grid - (guess + drift)[:, None]) * 100.0 <= HOME_CENTS
            stays = np.where(along | ~self._is_home, np.float32(0.0), evidence).max(axis=1, keepdims=True)
            most = np.where(stays > HOME_BONUS, ALONG_SHARE * stays, ALONG_BONUS)
            evidence += np.minimum(ALONG_BONUS, most) * along
        evidence += self._bonus
        return evidence

    def _evidence(self, there: NDArray[np.float32], others: Sequence[NDArray[np.float64]]) -> NDArray[np.float32]:
        """Share of each grid pitch's free partials that is there, shape (frames, grid)."""
        tones = np.array(others) if others else np.zeros((0, len(there)))
        alike, firsts = runs(tones)
        free = free_of_others(self._targets[None, :], list(tones[:, firsts]), self._bin_hz)
        weights = (free * self._shares).reshape(len(free), PARTIALS, len(self.grid))
        weights = (weights / (weights.sum(axis=1, keepdims=True) + 0.15 * WEIGHTS.sum())).astype(np.float32)
        parts = there.reshape(len(there), PARTIALS, len(self.grid))
        return np.asarray(np.einsum("fpg,fpg->fg", parts, weights.take(alike, axis=0)))


def _as_it_sounds(clean: NDArray[np.float32], quests: Sequence[Quest], bin_hz: float) -> Sequence[Quest]:
    """Where the player's way and the figure's line disagree, the sound of all strings together decides, from where they
    part to where they meet: what is left of it by strays, which may have drawn the way to them, and by strings of which
    both say the same, in which another one seems to be where it may hide."""
    parted = np.zeros(len(clean), dtype=bool)
    for quest in quests:
        if quest.written is not None:
            parted[quest.first : quest.stop] |= np.abs(quest.guess - quest.written) > PARTED_SEMITONES
    borders = np.flatnonzero(np.diff(parted, prepend=False, append=False)).tolist()
    strays = [replace(q, guess=_by_itself(clean, q, bin_hz)) for q in quests if q.written is None] if borders else []
    for begin, end in zip(borders[::2], borders[1::2], strict=True):
        turned = [_written_between(quest, begin, end) for quest in quests]
        both = [
            (quest, line, bool(np.abs(quest.guess - line.guess).max() > PARTED_SEMITONES))
            for quest, line in zip(quests, turned, strict=True)
        ]
        sure = [quest for quest, _, parts in both if not parts and quest.written is not None]
        rest = _without(clean, [*strays, *sure], begin, end, bin_hz)
        gain = sum(
            _presence(rest, line, begin, bin_hz) - _presence(rest, quest, begin, bin_hz)
            for quest, line, parts in both
            if parts
        )
        quests = turned if gain > LEAST_GAIN * (end - begin) else quests
    return quests


def _by_itself(clean: NDArray[np.float32], quest: Quest, bin_hz: float) -> NDArray[np.float64]:
    """Where a string is that is followed by itself, shape (stop - first,)."""
    sought = _Sought(clean, quest, bin_hz)
    return sought.grid[best_paths([sought.evidence([], [], None)])[0]]


def _without(
    clean: NDArray[np.float32], some: Sequence[Quest], begin: int, end: int, bin_hz: float
) -> NDArray[np.float32]:
    """The spectra between two frames without the partials of some strings where they are guessed to be; shape
    (end - begin, bins)."""
    rest = clean[begin:end].copy()
    for quest in some:
        low, high = max(begin, quest.first), min(end, quest.stop)
        tones_hz = hz(quest.guess[max(0, low - quest.first) : max(0, high - quest.first)])
        bins = np.rint(tones_hz[:, None] * np.arange(1, LEFT_OUT + 1) / bin_hz)[:, :, None] + PARTIAL_BINS
        frames = np.arange(low - begin, low - begin + len(tones_hz))[:, None, None]
        rest[frames, bins.astype(int).clip(0, clean.shape[1] - 1)] = 0.0
    return rest


def _written_between(quest: Quest, begin: int, end: int) -> Quest:
    """A quest that is guessed to be where its line has it, between two frames."""
    low, high = max(begin, quest.first) - quest.first, min(end, quest.stop) - quest.first
    if quest.written is None or low >= high:
        return quest
    return replace(quest, guess=np.concatenate((quest.guess[:low], quest.written[low:high], quest.guess[high:])))


def _presence(rest: NDArray[np.float32], quest: Quest, begin: int, bin_hz: float) -> float:
    """How much of a string is there near its guess in some spectra, the first of which is frame `begin`; in frames."""
    low, high = max(begin, quest.first), min(begin + len(rest), quest.stop)
    guess = quest.guess[low - quest.first : high - quest.first]
    return float(evidence_near(rest[low - begin : high - begin], guess, NEAR, bin_hz).max(axis=1).sum())
