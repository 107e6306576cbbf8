"""Listening to one attempt at a figure: the take's sound in, heard notes out.

The score says which strings should sound where, and what hands, feet and knees could have done instead; the sound
decides. In order: which onset is which pick; what sounds in place of a pick that was not found; the pitch of every
string through time; what else was struck; where each string ends.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.curves.quest import Quest
from livecheck.hearing.curves.track import Track
from livecheck.hearing.curves.tracks import scaled, track_all
from livecheck.hearing.ends.drowned import drowned_s
from livecheck.hearing.ends.ending import Endings
from livecheck.hearing.heard import CLEAR_SUPPORT, HeardNote
from livecheck.hearing.median import median, medians
from livecheck.hearing.scene import SLIP_SEMITONES, Scene, Sounding
from livecheck.hearing.score import TimedScore
from livecheck.hearing.sound.mixing import Chord, Clearness, clearness
from livecheck.hearing.sound.moments import Moments
from livecheck.hearing.sound.onset import Onset
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.spectrum import Spectrogram
from livecheck.hearing.strokes.picks import asked_of, lay
from livecheck.hearing.strokes.struck import struck_strings, without_hidden, without_mimicked
from livecheck.hearing.unasked.again import struck_again
from livecheck.hearing.unasked.carried import STRAY_S, covered, followed
from livecheck.hearing.unasked.one_pitch import at_one_pitch
from livecheck.hearing.unasked.stray import strays
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import Checkpoint

TRACK_START_S = 0.01
EDGE_S = 0.03
"""A frame so near to a string's start or end hears more of what was before or comes after."""
SHORTEST_S = 0.05
CLEAR_FRAMES = 3
"""What another string's partials seem to make of one on its way, they make of it for less."""
CLEARER = 0.2
"""By so much more of all partials that are its own a string must be there in the longer window to be followed in it."""
LOST_FRAMES = 9
"""For so much longer, a tenth of a second, a string must be lost in the noise than stand out of it to have faded."""
LEARNT_S, LEARNT_SUPPORT = (0.06, 0.25), 0.6
"""When after a pick, and how clearly, a string must sound for its track to tell where it really is."""


@dataclass(frozen=True)
class Glimpse:
    """An asked pick as it was found at first sight."""

    checkpoint: Checkpoint
    time_s: float
    cents: float
    """How far it sounded above the lesson's pitch, to ten cents."""


class Listener:
    """Guided listening over one recording."""

    def __init__(
        self, recording: Recording, onsets: Sequence[Onset], copedent: Copedent, clearness: Clearness | None = None
    ) -> None:
        """`clearness`: what others who listened to the take found, which is added to."""
        self._recording = recording
        self._onsets = onsets
        self._copedent = copedent
        self._clearness = Clearness() if clearness is None else clearness
        self._moments = Moments()

    def glimpse(self, score: TimedScore, from_s: float, until_s: float) -> list[Glimpse]:
        """Only the picks of an attempt: enough to know where to listen, at a small part of the cost."""
        near = [onset for onset in self._onsets if from_s <= onset.time_s < until_s]
        scene = Scene(self._recording, near, self._copedent, score, self._moments)
        laid = lay(asked_of(score), scene.moments)
        together = scene.together(laid)
        chords = [Chord(moment.onset.time_s, midis) for moment, midis in together]
        self._clearness.learn(from_s, clearness([(moment.peaks, midis) for moment, midis in together]), chords)
        struck = (s for s in laid if s is not None)
        return [
            Glimpse(
                s.asked.checkpoint,
                scene.moments[s.moment].onset.time_s,
                100.0 * (s.evidence.midi - s.asked.checkpoint.midi),
            )
            for s in struck
        ]

    def hear(self, score: TimedScore, from_s: float, until_s: float) -> list[HeardNote]:
        """All notes heard around an attempt, between two times (where the attempts before and after it begin)."""
        near = [onset for onset in self._onsets if from_s <= onset.time_s < until_s]
        next_s = min((onset.time_s for onset in self._onsets if onset.time_s >= until_s), default=math.inf)
        scene = Scene(self._recording, near, self._copedent, score, self._moments, next_s)
        if self._clearness.is_mixed:
            scene.mark_driven()
        sounding, used = struck_strings(scene)
        _set_stops(scene, sounding)
        tracks = _tracks(scene, sounding, ())
        others = strays(scene, sounding, tracks, used)
        first = sounding
        sounding, others = at_one_pitch(scene, first, others, used)
        scene.strays = others
        if others or sounding is not first:
            _set_stops(scene, sounding)
            sounding = without_hidden(scene, without_mimicked(scene, sounding, others), others)
            tracks = _tracks(scene, sounding, others)
        _learn_slips(scene, sounding, tracks)
        again = struck_again(scene, sounding, tracks, others, used)
        beside = [followed(scene, stray) for stray in others]
        heard = list(others)
        endings = Endings(scene, sounding, tracks)
        for index, (one, track, onsets) in enumerate(zip(sounding, tracks, again, strict=True)):
            left_db = endings.tail_db(index)
            *before, last = _heard(scene, one, track, beside, endings.end_s(index), onsets)
            if last.end_s == one.stop_s:
                # Whether a string that rang until the next attempt began was silenced then cannot be told.
                last = replace(last, end_s=one.due_s)
            heard += [replace(note, tail_db=left_db) for note in (*before, last)]
        return sorted(heard, key=lambda note: (note.start_s, note.string or 0))


def _set_stops(scene: Scene, sounding: Sequence[Sounding]) -> None:
    """Each string is followed to its written end, or to the pick that ends it if that came at another time, and not
    into the next attempt."""
    for one in sounding:
        note = one.asked.note
        stop_s = scene.score.time_s(note.end_beat)
        if note.ending == "pick":
            enders = [
                s.onset.time_s
                for s in sounding
                if float(scene.step(s.asked.checkpoint.step).beat) == note.end_beat
                and s.onset.time_s > one.onset.time_s
            ]
            stop_s = min(enders, default=stop_s)
        one.stop_s, one.due_s = (max(s, one.onset.time_s + SHORTEST_S) for s in (min(stop_s, scene.next_s), stop_s))


def _tracks(scene: Scene, sounding: Sequence[Sounding], others: Sequence[HeardNote]) -> list[Track]:
    """A track for each sounding string; strays take part, so that no string is drawn to them."""
    spectra = scene.spectra
    quests = []
    for one in sounding:
        first, stop = spectra.span(one.onset.time_s + TRACK_START_S, one.stop_s)
        homes = _homes(scene, one)
        times_s = spectra.times_s[first:stop]
        guess, written = (
            one.asked.note.midi_at(beats) + scene.offset + one.slip
            for beats in (scene.score.beats_at(times_s), scene.score.written_at(times_s))
        )
        quests.append(Quest(first, stop, homes, guess, written))
    for stray in others:
        first, stop = spectra.span(stray.start_s, stray.start_s + STRAY_S)
        guess = float(stray.midis[0]) + _bar_since(scene, sounding, stray.start_s, spectra.times_s[first:stop])
        quests.append(Quest(first, stop, tuple({float(guess[0]), float(guess[-1])}), guess))
    tracks = _followed(spectra, quests)[: len(sounding)]
    unclear = [
        i for i, one in enumerate(sounding) if scene.is_crowded(one.asked) and _clearness(tracks[i]) < 1.0 - CLEARER
    ]
    return _followed_deeper(scene, quests, tracks, unclear) if unclear else tracks


def _followed(spectra: Spectrogram, quests: Sequence[Quest]) -> list[Track]:
    first, stop = min((q.first for q in quests), default=0), max((q.stop for q in quests), default=0)
    return track_all(spectra, scaled(spectra, first, stop), quests)


def _followed_deeper(
    scene: Scene, quests: Sequence[Quest], tracks: Sequence[Track], unclear: Sequence[int]
) -> list[Track]:
    """Tracks, of some strings those that the longer window has if these are far clearer: it leaves more partials
    to low strings that sound together, and blurs where they move."""
    near = [i for i, quest in enumerate(quests) if any(quest.meets(quests[index]) for index in unclear)]
    deeper = dict(zip(near, _followed(scene.deep, [quests[i] for i in near]), strict=True))
    return [
        deeper[i] if i in unclear and _clearness(deeper[i]) > _clearness(track) + CLEARER else track
        for i, track in enumerate(tracks)
    ]


def _clearness(track: Track) -> float:
    return float(track.support.mean())


def _learn_slips(scene: Scene, sounding: Sequence[Sounding], tracks: Sequence[Track]) -> None:
    """A string whose track stays elsewhere than asked sounds elsewhere, though its pick seemed to be in place: what is
    asked of the others needs to know."""
    for one, track in zip(sounding, tracks, strict=True):
        first, stop = (scene.spectra.frame_at(one.onset.time_s + s) - track.first for s in LEARNT_S)
        if one.slip or not 0 <= first < stop < len(track.midis) or track.support[first:stop].mean() < LEARNT_SUPPORT:
            continue
        times_s = scene.spectra.times_s[track.first + first : track.first + stop]
        off = median(track.midis[first:stop] - one.asked.note.midi_at(scene.score.beats_at(times_s))) - scene.offset
        if abs(off) > SLIP_SEMITONES:
            one.midi = one.asked.midi + off


def _homes(scene: Scene, one: Sounding) -> tuple[float, ...]:
    """Every pitch that a string may settle on: all the places of bar and pedals while it rings, together or one
    without the other."""
    note = one.asked.note
    begin = one.asked.checkpoint.step
    stances = [s.stance for s in scene.score.expectation.figure.steps[begin - 1 :] if float(s.beat) <= note.end_beat]
    first = stances[0].midi(note.string, scene.copedent)
    raised = note.checkpoints[0].midi - first
    open_midi = scene.copedent.open_midi(note.string) + scene.offset + raised
    frets = {stance.bar.fret_at(note.string) for stance in stances}
    shifts = {stance.shift(note.string, scene.copedent) for stance in stances}
    pitches = {open_midi + fret + shift for fret in frets for shift in shifts}
    return tuple({*pitches, *(pitch + one.slip for pitch in pitches)})


def _bar_since(
    scene: Scene, sounding: Sequence[Sounding], start_s: float, times_s: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Semitones by which what rings has moved since a time: any string under the bar moves along."""
    beats = scene.score.beats_at(times_s)
    begin = float(scene.score.beats_at(np.array(start_s)))
    ringing = [s.asked.note for s in sounding if s.onset.time_s <= start_s < s.stop_s]
    moved = [note.midi_at(beats) - float(note.midi_at(np.array(begin))) for note in ringing]
    return medians(moved) if moved else np.zeros(len(times_s))


def _is_clear(track: Track) -> NDArray[np.bool_]:
    """Where a string is clearly heard, for some frames at least; shape (n,)."""
    clear = track.support >= CLEAR_SUPPORT
    ends = np.flatnonzero(np.diff(clear, prepend=False, append=False)).tolist()
    for begin, end in zip(ends[::2], ends[1::2], strict=True):
        if end - begin < CLEAR_FRAMES:
            clear[begin:end] = False
    return clear


def _faded_s(scene: Scene, track: Track, start_s: float, stop_s: float) -> float | None:
    """From when on a string that was struck at one time and sounds until another was lost in the noise, if it was: the
    change of a cumulated sum (Page, "Continuous inspection schemes", 1954)."""
    times = scene.spectra.times_s[track.first : track.stop]
    inside = (times >= start_s) & (times <= stop_s - EDGE_S)
    times, standing = times[inside], np.cumsum(track.standing[inside])
    if not len(standing) or standing.max() <= 0.0:
        return None
    last = int(np.flatnonzero(standing == standing.max())[-1])
    return float(times[last]) if standing[last] - standing[-1] >= LOST_FRAMES else None


def _lost_s(scene: Scene, track: Track, start_s: float, stop_s: float) -> float | None:
    """From when on a string was lost in the noise or in what others play, if it was."""
    lost_s = (lost(scene, track, start_s, stop_s) for lost in (_faded_s, drowned_s))
    return min((at_s for at_s in lost_s if at_s is not None), default=None)


def _heard(
    scene: Scene, one: Sounding, track: Track, beside: Sequence[Track], stop_s: float, again: Sequence[Onset]
) -> list[HeardNote]:
    """A string's notes: one, or more where it was struck again; there its pitch lies between those before and after,
    as it may be on its way. `beside`: the strays."""
    times = scene.spectra.times_s[track.first : track.stop]
    clear = (times <= stop_s - EDGE_S) & (times >= one.onset.time_s + EDGE_S) & _is_clear(track)
    clear &= ~covered(track, [scene.course(one, times, as_written) for as_written in (False, True)], beside)
    known = clear if clear.any() else np.ones(len(times), dtype=bool)
    starts = [one.onset.time_s, *(onset.time_s for onset in again if onset.time_s < stop_s), stop_s]
    notes = []
    for start_s, end in pairwise(starts):
        inside = (times >= start_s) & (times < end)
        if (inside & clear).any():
            inside &= clear
        cuts = [cut_s for cut_s in (start_s, end) if cut_s in starts[1:-1]]
        at = np.searchsorted(times[inside], cuts)
        notes.append(
            HeardNote(
                one.string,
                start_s,
                end,
                np.insert(times[inside], at, cuts),
                np.insert(track.midis[inside], at, np.interp(cuts, times[known], track.midis[known])),
                supports=np.insert(track.support[inside], at, np.interp(cuts, times, track.support)),
                faded_s=_lost_s(scene, track, start_s, end),
            )
        )
    return notes
