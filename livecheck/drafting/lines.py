"""What each string did between the picks of a take: attacks in, lines out.

Between two attacks the pitches of all ringing strings are followed together (`following.py`). A pick silences what rang
before, unless that goes on as loud as it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from livecheck.drafting.following import BAR_PARTIALS, TIMBRE_FRAMES, followed, timbre_of
from livecheck.drafting.leaps import without_leaps
from livecheck.drafting.line import Line
from livecheck.drafting.resting import NEAR, rests_of
from livecheck.drafting.struck import Attack
from livecheck.hearing.curves.track import UNKNOWN_DB
from livecheck.hearing.heard import HeardNote
from livecheck.hearing.sound.partials import Peaks, hz, support
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.salience import compressed
from livecheck.hearing.sound.spectrum import Spectrogram, spectrogram

WINDOW, HOP = 2048, 256
HOP_S = HOP / WORK_RATE_HZ
BLUR_S = 0.012
"""Standard deviation of the squared window: how far it smears a pitch curve."""
SETTLES_S = 0.03
"""After a pick its window is full of what it struck."""
LEADS_S = 0.02
"""Before the next pick its window is no longer clear of it."""
MIXED = 3
"""Frames before the next pick whose windows have some of it: they do not say whether a string still rings."""
RINGS_ON_DB, OFF_PACE_DB, STRUCK_DB = 7.0, 3.5, 10.0
RINGS_ON_PRESENCE, LEAST_FREE = 0.45, 0.2
BEFORE_S, AFTER_S = 0.05, (0.06, 0.1, 0.15, 0.2)
"""When a string is looked at, before and after a pick."""
PACE_FRAMES = 28
"""The last 0.3 s, by which it is known how fast a string dies away."""
FALLS_DB, FALLS_S, FALLS_FROM = 9.0, 0.06, 0.25
"""A string that is damped loses so much within so long and does not get it back; it ends where this share of that
is lost. One on the way loses as much, too: its partials are smeared."""
GLIDES_S, GLIDES = 0.08, 0.3
"""It is on the way where it moves by so many semitones within so long before or after."""
FAINT_DB, FAINT_SUPPORT = -45.0, 0.45
"""So far below its own loudest a string rings on as long as so much of what its pitch calls for is there, evenly."""
CLEAR_FRAMES = 5
"""One that dies away ends where for so long it was last so clear."""
STEADY_DB, BEND_FRAMES = 3.0, 4
"""By which its level may bend within so many frames, and as many again: what is left of noise goes up and down."""
SHORTEST_S = 0.05
HELD_S = 0.12
LEFT, LEFT_S = 0.4, 0.08
"""One that is so many semitones off its last pitch, for so long before it ends, dies on its way."""
LOST_SUPPORT, LOST_S = 0.1, 0.2
"""For so long no more than so much of what its pitch calls for is there: it has died away in the noise."""
ECHO_SHARE = 0.6
"""Of what was struck: common practice is half, or less."""


@dataclass
class _String:
    """A string that rings, while it is being followed."""

    attack: Attack
    index: int
    midi: float
    """Where it is now."""
    times_s: list[NDArray[np.float64]] = field(default_factory=list)
    midis: list[NDArray[np.float64]] = field(default_factory=list)
    db: list[NDArray[np.float64]] = field(default_factory=list)
    support: list[NDArray[np.float64]] = field(default_factory=list)
    timbre: NDArray[np.float32] = field(default_factory=lambda: np.empty(0, dtype=np.float32))
    """How loud its partials were when it was picked, compressed."""


def lines_of(recording: Recording, attacks: Sequence[Attack], lag_s: float | None = None) -> list[Line]:
    """The lines of a take in order of their picks. `lag_s`: of the echo, if there is one."""
    if not attacks:
        return []
    spectra = spectrogram(recording, 0.0, recording.duration_s, WINDOW, HOP)
    if lag_s is not None:
        spectra = _without_echo(spectra, lag_s)
    clean = compressed(spectra.magnitudes)
    clean /= np.maximum(clean.max(axis=1, keepdims=True), np.float32(1e-9))
    ringing: list[_String] = []
    done: list[_String] = []
    ends_s = [attack.time_s for attack in attacks[1:]] + [recording.duration_s]
    for attack, end_s in zip(attacks, ends_s, strict=True):
        kept = [one for one in ringing if _rings_on(one, attack, end_s, spectra, ringing)]
        done += [one for one in ringing if one not in kept]
        ringing = kept + [_String(attack, i, midi) for i, midi in enumerate(attack.midis)]
        first, stop = spectra.span(attack.time_s + SETTLES_S, end_s - LEADS_S)
        _follow(ringing, spectra, clean, first, min(stop, len(clean)))
        gone = [one for one in ringing if _end(one)[0] < end_s - 2.0 * FALLS_S]
        done += gone
        ringing = [one for one in ringing if one not in gone]
    lines = [line for one in done + ringing if (line := _line(one)) is not None]
    return sorted(without_leaps(lines), key=lambda line: (line.start_s, line.rests[0].midi))


def line_of_note(note: HeardNote) -> Line | None:
    """The line of a note whose curve is known, as MIDI's is; None if it is too short to be one."""
    times, midis = note.curve(note.start_s, note.end_s)
    rests = rests_of(times, midis, note.start_s, 0.0)
    return Line(note.start_s, note.end_s, tuple(rests), note.string) if rests else None


def _without_echo(spectra: Spectrogram, lag_s: float) -> Spectrogram:
    """The spectra without what is no louder than an echo of what was there before, each bin by itself."""
    lag = round(lag_s / HOP_S)
    echo = np.zeros_like(spectra.magnitudes)
    for shift in (-1, 0, 1):
        late = spectra.magnitudes[: len(echo) - lag - shift]
        np.maximum(echo[lag + shift :], late, out=echo[lag + shift :])
    left = spectra.magnitudes * (spectra.magnitudes > ECHO_SHARE * echo)
    return Spectrogram(left, spectra.start_s, spectra.hop_s, spectra.bin_hz)


def _rings_on(one: _String, attack: Attack, until_s: float, spectra: Spectrogram, ringing: Sequence[_String]) -> bool:
    """Whether a string still rings after another was picked, and before the next pick: most of it is there at most
    moments, soon after the pick too, and at the last of these it has lost little, or what it lost at the pace at which
    it died away before, as a tail would not, and gained little, as one that is struck again would not."""
    if any(abs(one.midi - midi) < 0.6 for midi in attack.midis) or not one.db:
        return False
    others = [*attack.midis, *(other.midi for other in ringing if other is not one)]
    latest_s = max(until_s - LEADS_S, attack.time_s + AFTER_S[0])
    there_s = []
    for after_s in (min(attack.time_s + after_s, latest_s) for after_s in AFTER_S):
        peaks = Peaks.of(spectra.magnitudes[spectra.frame_at(after_s)], spectra.bin_hz)
        found = support(peaks, np.array([one.midi]), others)
        if found.presence[0] >= RINGS_ON_PRESENCE and found.free[0] >= LEAST_FREE:
            there_s.append(after_s)
    if 2 * len(there_s) < len(AFTER_S) or there_s[0] > attack.time_s + AFTER_S[1]:
        return False
    before_db = _level_db(spectra, attack.time_s - BEFORE_S, one.midi, others)
    after_db = _level_db(spectra, there_s[-1], one.midi, others)
    paced_db = before_db - _pace_db_s(one) * (there_s[-1] - attack.time_s + BEFORE_S)
    return min(before_db - RINGS_ON_DB, paced_db - OFF_PACE_DB) < after_db < before_db + STRUCK_DB


def _pace_db_s(one: _String) -> float:
    """How fast a string dies away, in dB a second: the middle of how its level went lately, whatever came at once."""
    db = np.concatenate(one.db)[:-MIXED][-PACE_FRAMES:]
    if len(db) <= BEND_FRAMES:
        return 0.0
    return max(0.0, float(np.median(db[:-BEND_FRAMES] - db[BEND_FRAMES:])) / (BEND_FRAMES * HOP_S))


def _level_db(spectra: Spectrogram, time_s: float, midi: float, others: Sequence[float]) -> float:
    """Level of the partials that no other string has nearby."""
    targets = float(hz(np.array(midi))) * np.arange(1, BAR_PARTIALS + 1)
    free = np.ones(BAR_PARTIALS, dtype=bool)
    for other in others:
        f0 = float(hz(np.array(other)))
        free &= np.abs(targets - np.maximum(np.rint(targets / f0), 1.0) * f0) > 2.3 * spectra.bin_hz
    row = spectra.magnitudes[spectra.frame_at(time_s)]
    bins = np.clip(np.rint(targets / spectra.bin_hz).astype(int), 1, len(row) - 2)
    level = np.maximum.reduce([row[bins + d] for d in (-1, 0, 1)])[free]
    return float(10.0 * np.log10(np.maximum((level**2).mean(), 1e-14))) if free.any() else UNKNOWN_DB


def _follow(
    ringing: Sequence[_String], spectra: Spectrogram, clean: NDArray[np.float32], first: int, stop: int
) -> None:
    """Add what each string does on some frames."""
    for one in ringing:
        if not len(one.timbre):
            one.timbre = timbre_of(clean[first : min(stop, first + TIMBRE_FRAMES)], one.midi, spectra.bin_hz)
    begun = [one.midi for one in ringing]
    tracks = followed(spectra, clean, first, stop, begun, [one.timbre for one in ringing])
    times_s = spectra.times_s[first:stop]
    for one, track in zip(ringing, tracks, strict=True):
        one.times_s.append(times_s)
        one.midis.append(track.midis)
        one.db.append(track.db)
        one.support.append(np.where(track.db > UNKNOWN_DB, track.support, 1.0))
        one.midi = float(np.median(track.midis[-5:]))


def _end(one: _String) -> tuple[float, bool]:
    """When a string falls silent, as far as it was followed, and whether it was silenced, or else died away."""
    times_s, db, midis = (np.concatenate(parts)[:-MIXED] for parts in (one.times_s, one.db, one.midis))
    until_s = float(one.times_s[-1][-1]) + LEADS_S
    if not len(db):
        return until_s, True
    later = np.maximum.accumulate(db[::-1])[::-1]
    ahead = round(FALLS_S / HOP_S)
    falls = np.zeros(len(db), dtype=bool)
    if len(db) > ahead:
        falls[:-ahead] = later[ahead:] < db[:-ahead] - FALLS_DB
    share = np.concatenate(one.support)[:-MIXED]
    ends = (falls & ~_glides(midis)) | _fades(db, later, share)
    if not ends.any():
        return until_s, True
    at = int(np.argmax(ends))
    since = max(0, at - round(LOST_S / HOP_S))
    fell = np.flatnonzero(falls[since : at + 1])
    if not len(fell):
        around = sliding_window_view(np.pad(share, CLEAR_FRAMES // 2, mode="edge"), CLEAR_FRAMES)
        clear = np.flatnonzero(np.median(around[: at + 1], axis=1) > FAINT_SUPPORT)
        return float(times_s[clear[-1] if len(clear) else at]), False
    at = since + int(fell[0])
    return float(times_s[at + int(np.argmax(db[at:] < db[at] - FALLS_FROM * FALLS_DB))]), True


def _glides(midis: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where a string is on its way."""
    around = round(GLIDES_S / HOP_S)
    windows = sliding_window_view(np.pad(midis, around, mode="edge"), 2 * around + 1, axis=0)
    return np.asarray(windows.max(axis=1) - windows.min(axis=1) >= GLIDES)


def _fades(db: NDArray[np.float64], later: NDArray[np.float64], share: NDArray[np.float64]) -> NDArray[np.bool_]:
    """From where on a string is lost in the noise, or far below its own loudest and no longer steady; `share`: how much
    of what its pitch calls for is there."""
    fades = np.zeros(len(db), dtype=bool)
    lasts = round(LOST_S / HOP_S)
    if len(db) > lasts:
        near = sliding_window_view(share, lasts)
        fades[: len(near)] |= near.mean(axis=1) < LOST_SUPPORT
        evenly = np.median(sliding_window_view(_bends(db), lasts), axis=1) < STEADY_DB
        rang = evenly & (np.median(near, axis=1) > FAINT_SUPPORT)
        fades[-len(near) :] |= (later < np.maximum.accumulate(db) + FAINT_DB)[-len(near) :] & ~rang
    return fades


def _bends(db: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far each level is off those some frames before and after it, by how they go; same shape."""
    padded = np.pad(db, BEND_FRAMES, mode="edge")
    return np.abs(padded[2 * BEND_FRAMES :] - 2.0 * db + padded[: -2 * BEND_FRAMES])


def _leaves(times_s: NDArray[np.float64], midis: NDArray[np.float64], end_s: float, rest_midi: float) -> bool:
    """Whether a string that died away was off its last pitch by then: it was on its way."""
    last = midis[(times_s <= end_s) & (times_s > end_s - SHORTEST_S)]
    return len(last) > 0 and abs(float(np.median(last)) - rest_midi) > NEAR


def _line(one: _String) -> Line | None:
    start_s, (end_s, damped) = one.attack.time_s, _end(one)
    if end_s - start_s < SHORTEST_S:
        return None
    times_s, midis = np.concatenate(one.times_s), np.concatenate(one.midis)
    note = HeardNote(None, start_s, end_s, times_s, midis)
    rests = rests_of(*note.curve(start_s, end_s), start_s, BLUR_S)
    if not rests:
        return None
    # A string comes to rest where it is heard for a while.
    is_brief = end_s < min(rests[-1].arrived_s + HELD_S, times_s[-1])
    if len(rests) > 1 and (is_brief or (not damped and _leaves(times_s, midis, end_s, rests[-1].midi))):
        rests.pop()
    left_s = times_s[(times_s < end_s) & (np.abs(midis - rests[-1].midi) < LEFT)].max(initial=start_s)
    if end_s - left_s > LEFT_S:
        end_s = max(0.5 * (left_s + end_s), start_s + SHORTEST_S)
    return Line(start_s, end_s, tuple(rests), None, one.attack.odds, one.attack.margin, damped)
