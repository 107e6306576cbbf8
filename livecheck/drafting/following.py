"""Where strings that ring together went between two picks: spectra in, a track for each string out.

First the one bar under them is looked for: one offset for all. Then each string by itself
(`hearing/curves/tracks.py`), twice, the second time from where bar and pedals had it when it was last made out. As what
seems the bar may be the pedals of several strings, and the other way round, both ways are gone and the one on which
more of the strings is there is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from livecheck.drafting.crossing import uncrossed
from livecheck.hearing.curves.quest import Quest
from livecheck.hearing.curves.track import UNKNOWN_DB, Track
from livecheck.hearing.curves.tracks import track_all
from livecheck.hearing.sound.partials import SHADOW_SEMITONES, SHADOW_WIDTH, hz, shadows
from livecheck.hearing.sound.spectrum import Spectrogram

WIDEST, STEP = 13.0, 0.2
"""Semitones that the bar may slide under one pick, and how finely it is looked for."""
PEDAL, PEDAL_COST = 2.2, 0.06
"""Semitones by which pedals and levers take a string off the bar, and what that costs in evidence."""
FIRST_OFF = 0.6
"""How far the bar may be from where the pick was heard, on the first frame."""
FASTEST_STEPS = 3
"""56 semitones a second."""
GLIDE_COST = 0.03
BAR_PARTIALS = 6
TIMBRE_FRAMES = 5
BAR_WEIGHTS = 0.8 ** np.arange(BAR_PARTIALS)
EITHER_SHARE = 0.3
"""A pitch an octave too low has only its even partials, so a pitch is as likely as the weaker of both halves; a string
picked at a point where one half is weak is found by the mean."""
ROUNDS = 2
FOUND_SUPPORT, FOUND_FRAMES = 0.3, 5
"""A string is found where so much of what its pitch calls for is there."""
MOVES, MOVES_FRAMES, ON_THE_WAY = 0.1, 10, 1.5
"""Semitones that a string moves within so many frames; one that is lost so near to where it would hide was on its way
there."""
FADES_DB, GONE_DB, BELOW_DB = 15.0, 25.0, 32.0
"""What a ringing string loses in a second, at most, but for so much at once; how far it is below the loudest one."""
PARTED, UNKNOWN = 0.3, 0.4
"""Semitones by which two ways differ; how much of a string is taken to be there where it hides."""


def followed(
    spectra: Spectrogram,
    clean: NDArray[np.float32],
    first: int,
    stop: int,
    midis: Sequence[float],
    timbres: Sequence[NDArray[np.float32]],
) -> list[Track]:
    """The tracks of strings on some frames. `clean`: the spectra compressed; `midis`: where each string begins;
    `timbres`: how loud its partials were when it was picked."""
    bar = _bar(clean[first:stop], midis, timbres, spectra.bin_hz)
    tracks = _tracks(spectra, clean, first, midis, bar)
    if len(midis) > 1 and bar.any():
        return _likelier(_tracks(spectra, clean, first, midis, np.zeros_like(bar)), tracks, spectra.hop_s)
    return tracks


def _tracks(
    spectra: Spectrogram, clean: NDArray[np.float32], first: int, begun: Sequence[float], bar: NDArray[np.float64]
) -> list[Track]:
    """Each string, from frame `first` on, if the bar slid so far."""
    guesses = [midi + bar for midi in begun]
    for _ in range(ROUNDS):
        quests = [
            Quest(first, first + len(bar), (float(guess.min()), float(guess.max()), midi), guess)
            for guess, midi in zip(guesses, begun, strict=True)
        ]
        tracks = uncrossed(track_all(spectra, clean, quests), begun)
        guesses = [_carried(index, tracks, begun[index] + bar, spectra.hop_s) for index in range(len(tracks))]
    return tracks


def _likelier(still: Sequence[Track], slid: Sequence[Track], hop_s: float) -> list[Track]:
    """Of two ways in which strings may have gone, where these part until they meet again, that on which more of the
    strings is there."""
    apart = np.max([np.abs(one.midis - other.midis) for one, other in zip(still, slid, strict=True)], axis=0) > PARTED
    gain = _there(still, hop_s) - _there(slid, hop_s)
    chosen = np.zeros(len(apart), dtype=bool)
    edges = np.flatnonzero(np.diff(apart, prepend=False, append=False))
    for low, high in zip(edges[::2], edges[1::2], strict=True):
        chosen[low:high] = gain[low:high].sum() > 0.0
    return [other.changed_for(one, chosen) for one, other in zip(still, slid, strict=True)]


def _there(tracks: Sequence[Track], hop_s: float) -> NDArray[np.float64]:
    """How many of some strings are there on each frame."""
    total = np.zeros(len(tracks[0].midis))
    for track in tracks:
        hides = np.any([shadows(other.midis, track.midis) for other in tracks if other is not track], axis=0)
        total += np.where(hides | (track.db <= UNKNOWN_DB), UNKNOWN, track.support * _is_loud(track, tracks, hop_s))
    return total


def _carried(index: int, tracks: Sequence[Track], bar: NDArray[np.float64], hop_s: float) -> NDArray[np.float64]:
    """Where a string is on each frame: where it was found, or else as far off the bar as it was when it was last found,
    and off the string that it came to hide behind."""
    track = tracks[index]
    found = _is_found(track, tracks, hop_s)
    padded = np.pad(track.midis, FOUND_FRAMES // 2, mode="edge")
    midis = np.median(sliding_window_view(padded, FOUND_FRAMES), axis=1)
    last = np.maximum.accumulate(np.where(found, np.arange(len(found)), -1))
    was = midis[last]
    moves = np.abs(was - midis[np.maximum(last - MOVES_FRAMES, 0)]) > MOVES
    moves &= np.arange(len(last)) - last > FOUND_FRAMES
    carried = was + bar - bar[last]
    for other in (*tracks[:index], *tracks[index + 1 :]):
        above = was - other.midis[last]
        place = SHADOW_SEMITONES[np.abs(above[:, None] - SHADOW_SEMITONES).argmin(axis=1)]
        hides = np.abs(above - place) <= np.where(moves, ON_THE_WAY, SHADOW_WIDTH)
        carried = np.where(hides, other.midis + np.where(moves, place, above), carried)
    return np.where(last >= 0, carried, bar + track.midis[0] - bar[0])


def _is_found(track: Track, tracks: Sequence[Track], hop_s: float) -> NDArray[np.bool_]:
    return (track.support >= FOUND_SUPPORT) & _is_loud(track, tracks, hop_s)


def _is_loud(track: Track, tracks: Sequence[Track], hop_s: float) -> NDArray[np.bool_]:
    """Where a string has not fallen further than strings that ring do, nor lies far below the loudest of them: what is
    left of it is noise."""
    fade_db = FADES_DB * hop_s * np.arange(len(track.db))
    rings = track.db > np.maximum.accumulate(track.db + fade_db) - fade_db - GONE_DB
    return np.asarray(rings & (track.db > np.max([other.db for other in tracks], axis=0) - BELOW_DB))


def _bar(
    clean: NDArray[np.float32], midis: Sequence[float], timbres: Sequence[NDArray[np.float32]], bin_hz: float
) -> NDArray[np.float64]:
    """How far the bar has slid on each frame since the first, in semitones: the best path of one offset for all.

    Each string may be somewhat off the bar, as a pedal takes it, but no two of them lie where one does. A string is
    where its own partials are as it had them when it was picked: in one whose even partials are the strong ones the
    pitch an octave above has more of what any string has, but not of what this one had.
    """
    wide = np.arange(-WIDEST - PEDAL, WIDEST + PEDAL + STEP / 2, STEP)
    spread = round(PEDAL / STEP)
    offsets = wide[spread : len(wide) - spread]
    owns, anywheres, places = [], [], []
    for midi, timbre in zip(midis, timbres, strict=True):
        f0 = hz(midi + wide)
        halves = np.zeros((2, len(clean), len(wide)))
        alike = np.zeros((len(clean), len(wide)))
        for number in range(1, BAR_PARTIALS + 1):
            level = _at(clean, f0 * number / bin_hz)
            halves[number % 2] += BAR_WEIGHTS[number - 1] * level
            alike += timbre[number - 1] * level
        halves[0] /= BAR_WEIGHTS[1::2].sum()
        halves[1] /= BAR_WEIGHTS[0::2].sum()
        there = halves.min(axis=0) + EITHER_SHARE * halves.mean(axis=0)
        there *= alike / np.maximum(alike.max(axis=1, keepdims=True), 1e-9)
        around = sliding_window_view(there, 2 * spread + 1, axis=1)
        best = around.argmax(axis=2)
        owns.append(there[:, spread : len(wide) - spread])
        anywheres.append(np.take_along_axis(around, best[:, :, None], axis=2)[:, :, 0] - PEDAL_COST)
        places.append(midi + wide[best + np.arange(len(offsets))])
    for one, other in combinations(range(len(midis)), 2):
        same = np.abs(places[one] - places[other]) < PARTED
        less = anywheres[one] < anywheres[other]
        anywheres[one] = np.where(same & less, -np.inf, anywheres[one])
        anywheres[other] = np.where(same & ~less, -np.inf, anywheres[other])
    evidence = np.mean([np.maximum(own, near) for own, near in zip(owns, anywheres, strict=True)], axis=0)
    rows = np.arange(len(clean))
    costs = GLIDE_COST * np.abs(np.arange(-FASTEST_STEPS, FASTEST_STEPS + 1))
    scores = np.full((len(rows), len(offsets) + 2 * FASTEST_STEPS), -np.inf)
    inner = slice(FASTEST_STEPS, FASTEST_STEPS + len(offsets))
    scores[0, inner] = np.where(np.abs(offsets) <= FIRST_OFF, evidence[0], -np.inf)
    near = sliding_window_view(scores, len(offsets), axis=1)
    for frame in rows[1:]:
        scores[frame, inner] = (near[frame - 1] - costs[:, None]).max(axis=0) + evidence[frame]
    path = np.empty(len(rows), dtype=np.int64)
    path[-1] = int(np.argmax(scores[-1, inner]))
    for frame in range(len(rows) - 2, -1, -1):
        path[frame] = (
            path[frame + 1]
            - FASTEST_STEPS
            + int((scores[frame, path[frame + 1] : path[frame + 1] + len(costs)] - costs).argmax())
        )
    return np.asarray(offsets[path], dtype=np.float64)


def timbre_of(clean: NDArray[np.float32], midi: float, bin_hz: float) -> NDArray[np.float32]:
    bins = np.asarray(float(hz(np.array(midi))) * np.arange(1, BAR_PARTIALS + 1) / bin_hz, dtype=np.float64)
    return np.asarray(_at(clean, bins).mean(axis=0) + np.float32(1e-3))


def _at(clean: NDArray[np.float32], bins: NDArray[np.float64]) -> NDArray[np.float32]:
    """Spectra between their bins; shape (frames, bins)."""
    bins = np.minimum(bins, clean.shape[1] - 1.001)
    low = bins.astype(int)
    part = (bins - low).astype(np.float32)
    return np.asarray(clean[:, low] * (1.0 - part) + clean[:, low + 1] * part)
