"""Listening to one attempt at a figure: the take's sound in, heard notes out.

The score says which strings should sound where, and what hands, feet and knees could have done instead; the sound decides. In order:
which onset is which pick; what sounds in place of a pick that was not found; the pitch of every string through
time; where each string ends; what else was struck.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.moment import Moment
from livecheck.hearing.onset import Onset
from livecheck.hearing.partials import Peaks, free_partials, hz, support
from livecheck.hearing.picks import Asked, asked_of, lay
from livecheck.hearing.recording import Recording
from livecheck.hearing.salience import compressed
from livecheck.hearing.score import TimedScore
from livecheck.hearing.single import single_midi
from livecheck.hearing.spectrum import spectrogram
from livecheck.hearing.tracks import Quest, Track, track_all
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Bar, Stance, Step

WINDOW = 2048
HOP = 256
MARGIN_S = 1.0
TRACK_START_S = 0.01
EDGE_S = 0.03
"""A frame so near to a string's start or end hears more of what was before or comes after."""
LEAST_TRACKED = 0.35
BLEED_S = 0.055
"""From so shortly before the next pick on, a frame and its neighbours hear that pick."""
SWAP_ACCEPT = 0.42
SLIP_ACCEPT = 0.45
STRAY_ACCEPT = 0.5
STRAY_S = 0.6
"""How long a stray is followed."""
STILL_THERE = 0.55
CROWDED_S = 0.09
"""What sounds after an onset cannot be told from what sounds after another one so soon."""
LINGER_S = 1.2
CAPTURED_DB = 5.0
"""A track that leaps and grows so much at an onset has left its string for the one that was struck."""
SLIP_SEMITONES = 0.6
"""A string that far from its pitch was struck elsewhere, and is expected to stay as far off."""
STRAY_GAIN_DB = 9.0
EMERGE_S = 0.25
EMERGE_PRESENCE, EMERGE_FREE = 0.6, 0.25
EMERGE_GAIN_DB = 10.0
ALONE_GAIN_DB = 6.0
STRAY_LEVEL_DB = -30.0
EXTRA_RISE = 0.22
AGAIN_RISE = 0.28
AGAIN_GAIN_DB, AGAIN_BESIDE_DB = 1.0, 4.0
"""How much a ringing string must grow to have been struck again, alone and where another string was struck too."""
DROP_DB, HALF_DROP_DB = 15.0, 7.0
DROP_BEFORE, DROP_AFTER = 3, 6
"""Frames before and after the moment of a fall between which it must happen: about a tenth of a second."""
UNKNOWN_DB = -130.0
"""A level where no partial was free to be measured."""
RANG_DROP_DB = 14.0
MOST_FRETS_OFF = 2


@dataclass
class _Sounding:
    """A string that was found struck, while it is being worked out."""

    asked: Asked
    onset: Onset
    midi: float
    """As it sounds right after the pick."""
    string: int
    stop_s: float = 0.0


class Listener:
    """Guided listening over one recording."""

    def __init__(self, recording: Recording, onsets: Sequence[Onset], copedent: Copedent) -> None:
        self._recording = recording
        self._onsets = onsets
        self._copedent = copedent

    def hear(self, score: TimedScore, from_s: float, until_s: float) -> list[HeardNote]:
        """All notes heard around an attempt, between two times (where the attempts before and after it begin)."""
        near = [onset for onset in self._onsets if from_s <= onset.time_s < until_s]
        return _Attempt(self._recording, near, self._copedent, score).notes()


class _Attempt:
    def __init__(
        self, recording: Recording, onsets: Sequence[Onset], copedent: Copedent, score: TimedScore
    ) -> None:
        self.recording = recording
        self.score = score
        self.copedent = copedent
        figure = score.expectation.figure
        start_s = max(0.0, score.start_s - MARGIN_S)
        stop_s = min(score.time_s(1.0 + float(figure.length)) + MARGIN_S, recording.duration_s)
        self.spectra = spectrogram(recording, start_s, max(stop_s, start_s + 0.1), WINDOW, HOP)
        near = [o for o in onsets if start_s < o.time_s < stop_s]
        ends = [o.time_s for o in near[1:]] + [stop_s] if near else []
        self.moments = [Moment.at(o, end, self.spectra) for o, end in zip(near, ends, strict=True)]

    def notes(self) -> list[HeardNote]:
        asked = asked_of(self.score)
        struck = lay(asked, self.moments)
        sounding = [_Sounding(s.asked, self.moments[s.moment].onset, s.evidence.midi, s.asked.note.string) for s in struck if s]
        used = {s.moment for s in struck if s}
        emerged = {id(one): self._emerged(one) for one, s in zip(asked, struck, strict=True) if s is None}
        sounding += [s for s in emerged.values() if s is not None]
        lost = [one for one, s in zip(asked, struck, strict=True) if s is None and emerged[id(one)] is None]
        for step in sorted({one.checkpoint.step for one in lost}):
            open_ones = [one for one in lost if one.checkpoint.step == step]
            sounding += self._instead(step, open_ones, sounding, used)
        sounding.sort(key=lambda s: (s.onset.time_s, s.string))
        self._set_stops(sounding)
        tracks = self._tracks(sounding, ())
        strays = self._strays(sounding, tracks)
        if strays:
            tracks = self._tracks(sounding, strays)
        again = self._again(sounding, tracks, strays, used)
        heard = []
        for one, track in zip(sounding, tracks, strict=True):
            heard += self._heard(one, track, sounding, again.get(id(one), []))
        return sorted(heard + strays, key=lambda note: (note.start_s, note.string or 0))

    def _step(self, number: int) -> Step:
        return self.score.expectation.figure.steps[number - 1]

    def _emerged(self, one: Asked) -> _Sounding | None:
        """A string that came without an attack, faded in or too soft for an onset: there soon after its time, not before."""
        spectra, window = self.spectra, one.window
        first, last = spectra.frame_at(window.start_s), spectra.frame_at(window.stop_s)
        soon_s = min(window.expected_s + EMERGE_S, window.stop_s)
        peaks = Peaks.of(
            spectra.magnitudes[spectra.frame_at(soon_s - 0.06) : spectra.frame_at(soon_s + 0.04) + 1].mean(axis=0), spectra.bin_hz
        )
        found = support(peaks, np.array([one.midi]), one.others)
        if found.presence[0] < EMERGE_PRESENCE or found.free[0] < EMERGE_FREE:
            return None
        levels = [self._level_db(float(t), one.midi, one.others) for t in spectra.times_s[first : last + 1]]
        known = np.array([UNKNOWN_DB if level is None else level for level in levels])
        top = float(known.max(initial=UNKNOWN_DB))
        low = float(known[: max(1, spectra.frame_at(window.expected_s) - first)].min(initial=top))
        if top - low < EMERGE_GAIN_DB:
            return None
        begin = int(np.flatnonzero(known > top - EMERGE_GAIN_DB)[0])
        onset = Onset(float(spectra.times_s[first + begin]), 0.0)
        return _Sounding(one, onset, one.midi, one.note.string)

    # what sounds in place of a pick that was not found

    def _instead(self, step: int, missing: Sequence[Asked], sounding: Sequence[_Sounding], used: set[int]) -> list[_Sounding]:
        at = self._moment_of(step, missing, sounding, used)
        if at is None:
            return []
        moment = self.moments[at]
        present = [s.midi for s in sounding if s.asked.checkpoint.step == step]
        present += [p for p in missing[0].others if not self._belongs(step, p)]
        found = self._slip(step, missing, moment, present)
        left = [one for one in missing if all(f.asked is not one for f in found)]
        for one in left:
            sounds_too = present + [f.midi for f in found]
            swapped = self._swap(step, one, moment, sounds_too)
            if swapped is not None:
                found.append(swapped)
        if found:
            used.add(at)
        return found

    def _belongs(self, step: int, midi: float) -> bool:
        """Whether a pitch is one that this step picks."""
        picked = [n.checkpoints[0] for n in self.score.expectation.notes if n.checkpoints[0].step == step]
        return any(abs(self.score.sounding(c) - midi) < 0.01 for c in picked)

    def _moment_of(self, step: int, missing: Sequence[Asked], sounding: Sequence[_Sounding], used: set[int]) -> int | None:
        """The step's own onset: that of its other strings, else the clearest unused one near its time."""
        with_others = [s.onset.time_s for s in sounding if s.asked.checkpoint.step == step]
        if with_others:
            middle = float(np.median(with_others))
            return int(np.argmin([abs(m.onset.time_s - middle) for m in self.moments]))
        window = missing[0].window
        free = [i for i, m in enumerate(self.moments) if i not in used and window.holds(m.onset.time_s) and m.onset.rise > EXTRA_RISE]
        if not free:
            return None
        return max(free, key=lambda i: self.moments[i].onset.rise - abs(self.moments[i].onset.time_s - window.expected_s))

    def _slip(self, step: int, missing: Sequence[Asked], moment: Moment, present: Sequence[float]) -> list[_Sounding]:
        """The same strings with the bar or a pedal elsewhere."""
        best: list[_Sounding] = []
        best_value = 0.0
        for stance, cost in self._slips(step):
            pitches = [self._pitch(stance, one) for one in missing]
            if all(abs(p - one.midi) < 0.5 for p, one in zip(pitches, missing, strict=True)):
                continue
            found, value = [], -cost
            for one, pitch in zip(missing, pitches, strict=True):
                others = [*present, *(p for p, o in zip(pitches, missing, strict=True) if o is not one)]
                evidence = moment.evidence(pitch, others, 35.0)
                struck = moment.struck(evidence) if evidence.free >= 0.2 else 0.0
                value += struck / len(missing)
                if struck >= SLIP_ACCEPT and abs(pitch - one.midi) >= 0.5:
                    found.append(_Sounding(one, moment.onset, evidence.midi, one.note.string))
            if found and value > best_value:
                best, best_value = found, value
        return best

    def _slips(self, step: int) -> Iterator[tuple[Stance, float]]:
        stance = self._step(step).stance
        before = self._step(step - 1).stance if step > 1 else stance
        if before.bar != stance.bar:
            yield replace(stance, bar=before.bar), 0.0
        if before.down != stance.down:
            yield replace(stance, down=before.down), 0.0
        yield before, 0.02
        for name in self.copedent.changes:
            down = {n: a for n, a in stance.down.items() if n != name}
            yield replace(stance, down=down if name in stance.down else {**down, name: 1.0}), 0.05
        for frets in (-1, 1, -2, 2):
            bar = Bar(tuple((s, f + frets) for s, f in stance.bar.frets))
            if min(f for _, f in bar.frets) >= 0:
                yield replace(stance, bar=bar), 0.02 * abs(frets)

    def _pitch(self, stance: Stance, asked: Asked) -> float:
        """What an asked string would sound like in another stance."""
        string = asked.note.string
        asked_stance = self._step(asked.checkpoint.step).stance
        return asked.midi + stance.midi(string, self.copedent) - asked_stance.midi(string, self.copedent)

    def _swap(self, step: int, one: Asked, moment: Moment, present: Sequence[float]) -> _Sounding | None:
        """Another string, or any other pitch, struck in place of one."""
        stance = self._step(step).stance
        offset = self.score.tuning_cents / 100.0
        taken = set(self._step(step).pick)
        candidates = [
            (stance.midi(string, self.copedent) + offset, string)
            for string in range(1, len(self.copedent.strings) + 1)
            if string not in taken
        ]
        best: tuple[float, _Sounding] | None = None
        for pitch, string in candidates:
            value = self._stray_value(moment, pitch, present) - 0.03 * abs(string - one.note.string)
            if value > SWAP_ACCEPT and (best is None or value > best[0]):
                best = value, _Sounding(one, moment.onset, pitch, string)
        if best is not None:
            return best[1]
        if not present and len(self._step(step).pick) == 1:
            return self._alone(one, moment)
        for semitones in range(-7, 8):
            pitch = one.midi + semitones
            value = self._stray_value(moment, pitch, present, 50.0) - 0.01 * abs(semitones)
            if semitones and value > STRAY_ACCEPT and (best is None or value > best[0]):
                evidence = moment.evidence(pitch, present, 50.0)
                best = value, _Sounding(one, moment.onset, evidence.midi, one.note.string)
        return best[1] if best else None

    def _alone(self, one: Asked, moment: Moment) -> _Sounding | None:
        """Whatever pitch was struck where one string was to sound alone."""
        start_s = moment.onset.time_s + 0.06
        later = [m.onset.time_s for m in self.moments if m.onset.time_s > start_s]
        midi = single_midi(self.recording, start_s, min([start_s + 0.25, *(t - 0.03 for t in later)]))
        if midi is None or abs(midi - one.midi) < 0.5:
            return None
        if moment.evidence(midi, ()).gain_db < ALONE_GAIN_DB:
            return None
        return _Sounding(one, moment.onset, midi, one.note.string)

    def _stray_value(self, moment: Moment, pitch: float, present: Sequence[float], within_cents: float = 45.0) -> float:
        """0 to 1: whether a pitch that nobody asked for was struck at a moment."""
        if any(abs(pitch - other) < 0.7 for other in present):
            return 0.0
        evidence = moment.evidence(pitch, present, within_cents)
        if evidence.free < 0.25 or evidence.gain_db < STRAY_GAIN_DB or evidence.level_db < STRAY_LEVEL_DB:
            return 0.0
        return evidence.presence

    # pitch through time

    def _set_stops(self, sounding: Sequence[_Sounding]) -> None:
        """Each string is followed to its written end, or to the pick that ends it if that came at another time."""
        for one in sounding:
            note = one.asked.note
            stop_s = self.score.time_s(note.end_beat)
            if note.ending == "pick":
                enders = [s.onset.time_s for s in sounding if self._starts_at(s, note.end_beat) and s.onset.time_s > one.onset.time_s]
                stop_s = min(enders) if enders else stop_s
            one.stop_s = max(stop_s, one.onset.time_s + 0.05)

    def _starts_at(self, other: _Sounding, beat: float) -> bool:
        return float(self._step(other.asked.checkpoint.step).beat) == beat or other.asked.note.start_beat == beat

    def _tracks(self, sounding: Sequence[_Sounding], strays: Sequence[HeardNote]) -> list[Track]:
        """A track for each sounding string; strays take part, so that no string is drawn to them."""
        spectra = self.spectra
        clean = compressed(spectra.magnitudes)
        clean /= np.maximum(clean.max(axis=1, keepdims=True), np.float32(1e-9))
        times = spectra.times_s
        quests = []
        for one in sounding:
            first = spectra.frame_at(one.onset.time_s + TRACK_START_S)
            stop = max(first + 2, spectra.frame_at(one.stop_s))
            offset = one.midi - one.asked.midi
            offset = offset if abs(offset) > 0.6 else 0.0
            note = one.asked.note
            levels = [self.score.sounding(c) for c in note.checkpoints]
            homes = {*levels, *(level + offset for level in levels)}
            guess = note.midi_at(self.score.beats_at(times[first:stop])) + self.score.tuning_cents / 100.0 + offset
            quests.append(Quest(first, stop, tuple(homes), guess))
        for stray in strays:
            first, stop = spectra.frame_at(stray.start_s), spectra.frame_at(stray.start_s + STRAY_S)
            midi = float(stray.midis[0])
            quests.append(Quest(first, max(stop, first + 2), (midi,), np.full(max(stop, first + 2) - first, midi)))
        return track_all(spectra, clean, quests)[: len(sounding)]

    def _heard(self, one: _Sounding, track: Track, sounding: Sequence[_Sounding], again: Sequence[Onset]) -> list[HeardNote]:
        times = self.spectra.times_s[track.first : track.stop]
        end_s = self._silent_s(one, track)
        if end_s is None:
            end_s = self._rang_until(one, track, sounding)
        clear = (times <= end_s - EDGE_S) & (times >= one.onset.time_s + EDGE_S) & (track.support >= LEAST_TRACKED)
        midis = np.where(clear if clear.any() else times <= end_s, track.midis, np.nan)
        starts = [one.onset.time_s, *(o.time_s for o in again if o.time_s < end_s), end_s]
        return [
            HeardNote(one.string, start, stop, times[(times >= start) & (times < stop)], midis[(times >= start) & (times < stop)])
            for start, stop in zip(starts, starts[1:], strict=False)
        ]

    def _silent_s(self, one: _Sounding, track: Track) -> float | None:
        """When the string was silenced before its end, if it was: a steep fall from which nothing comes back."""
        clear = int(np.sum(self.spectra.times_s[track.first : track.stop] <= one.stop_s - BLEED_S))
        count = clear - DROP_BEFORE - DROP_AFTER
        if count < 3:
            return None
        smooth = np.median(np.lib.stride_tricks.sliding_window_view(np.pad(track.db, 1, mode="edge"), 3), axis=1)
        smooth = np.where(track.db > UNKNOWN_DB, smooth, -np.inf)
        later = np.maximum.accumulate(smooth[:clear][::-1])[::-1][DROP_BEFORE + DROP_AFTER :]
        known = np.isfinite(later) & np.isfinite(smooth[:count])
        fall = np.subtract(smooth[:count], later, out=np.zeros(count), where=known)
        found = np.flatnonzero(fall > DROP_DB)
        if not len(found):
            return None
        fallen = found[0] + np.flatnonzero(smooth[found[0] :] < smooth[found[0]] - HALF_DROP_DB)[0]
        return float(self.spectra.times_s[track.first + fallen])

    def _rang_until(self, one: _Sounding, track: Track, sounding: Sequence[_Sounding]) -> float:
        """The string's end: its written one, or as long as it still sounds after that, moving with bar and pedals."""
        if one.asked.note.ending == "end":
            return one.stop_s
        again = [s.onset.time_s for s in sounding if s.string == one.string and s.onset.time_s > one.onset.time_s + 0.03]
        limit_s = min([one.stop_s + 2.0, *again, float(self.spectra.times_s[-1])])
        last_s = one.stop_s - 0.06
        last = track.midis[(self.spectra.times_s[track.first : track.stop] <= last_s)][-4:]
        settled = float(np.median(last)) if len(last) else one.midi
        reference = self._level_db(last_s, settled, self._others_at(one, last_s, sounding))
        end_s = one.stop_s
        at = one.stop_s + 0.1
        while reference is not None and at < limit_s and self._rings(one, at, settled, reference, sounding):
            end_s = at
            at += 0.05
        return end_s

    def _rings(
        self, one: _Sounding, time_s: float, settled: float, reference_db: float, sounding: Sequence[_Sounding]
    ) -> bool:
        """Whether a string that should be silent still sounds, where it was or where the bar has taken it."""
        others = self._others_at(one, time_s, sounding)
        for midi in (settled, self._stance_midi(one.string, time_s)):
            level = self._level_db(time_s, midi, others)
            if level is not None and reference_db - level <= RANG_DROP_DB and self._present(time_s, midi, others):
                return True
        return False

    def _stance_midi(self, string: int, time_s: float) -> float:
        """Where bar and pedals have a string at a time, whether or not it should sound."""
        beat = (time_s - self.score.start_s) / self.score.beat_s + 1.0
        steps = self.score.expectation.figure.steps
        step = max((s for s in steps if float(s.beat) <= beat + 0.02), key=lambda s: s.number, default=steps[0])
        return step.stance.midi(string, self.copedent) + self.score.tuning_cents / 100.0

    def _others_at(self, one: _Sounding, time_s: float, sounding: Sequence[_Sounding]) -> list[float]:
        return [
            self._expected(other, time_s)
            for other in sounding
            if other is not one and other.onset.time_s < time_s + 0.04 and time_s < other.stop_s + 0.05
        ]

    def _level_db(self, time_s: float, midi: float, others: Sequence[float]) -> float | None:
        free = free_partials(np.array([midi]), others, self.spectra.bin_hz)[0][:6]
        if free.sum() < 2:
            return None
        row = self.spectra.magnitudes[self.spectra.frame_at(time_s)]
        bins = np.clip(np.rint(float(hz(np.array(midi))) * np.arange(1, 7) / self.spectra.bin_hz).astype(int), 1, len(row) - 2)
        level = np.maximum.reduce([row[bins + d] for d in (-1, 0, 1)])[free]
        return float(10.0 * np.log10(np.maximum((level**2).mean(), 1e-14)))

    def _present(self, time_s: float, midi: float, others: Sequence[float]) -> bool:
        peaks = Peaks.of(self.spectra.magnitudes[self.spectra.frame_at(time_s)], self.spectra.bin_hz)
        return float(support(peaks, np.array([midi]), others).presence[0]) > 0.35

    # what else was struck

    def _ringing(
        self, moment: Moment, sounding: Sequence[_Sounding], tracks: Sequence[Track]
    ) -> list[tuple[_Sounding, Track]]:
        return [
            (one, track)
            for one, track in zip(sounding, tracks, strict=True)
            if one.onset.time_s - 0.02 <= moment.onset.time_s < one.stop_s - 0.03
        ]

    def _strays(self, sounding: Sequence[_Sounding], tracks: Sequence[Track]) -> list[HeardNote]:
        """Strings that nobody asked for, struck at any onset."""
        strays = []
        for moment, following in zip(self.moments, [*self.moments[1:], None], strict=True):
            if following is not None and following.onset.time_s - moment.onset.time_s < CROWDED_S:
                continue
            ringing = self._ringing(moment, sounding, tracks)
            present = [self._midi_after(one, track, moment) for one, track in ringing]
            stray = self._stray(moment, present, self._lingering(moment, sounding))
            if stray is not None:
                strays.append(stray)
        return strays

    def _again(
        self, sounding: Sequence[_Sounding], tracks: Sequence[Track], strays: Sequence[HeardNote], used: set[int]
    ) -> dict[int, list[Onset]]:
        """Onsets at which a ringing string was struck again, by the identity of its `_Sounding`."""
        again: dict[int, list[Onset]] = {}
        for index, moment in enumerate(self.moments):
            new = [float(stray.midis[0]) for stray in strays if stray.start_s == moment.onset.time_s]
            if index in used or (not new and moment.onset.rise < AGAIN_RISE):
                continue
            least_db = AGAIN_BESIDE_DB if new else AGAIN_GAIN_DB
            for one, track in self._ringing(moment, sounding, tracks):
                older = one.onset.time_s < moment.onset.time_s - 0.06
                if older and self._gained_db(track, moment, new) > least_db:
                    again.setdefault(id(one), []).append(moment.onset)
        return again

    def _gained_db(self, track: Track, moment: Moment, new: Sequence[float]) -> float:
        """How much a ringing string grew at a moment; nothing if what is new there covers it."""
        before = self.spectra.frame_at(moment.onset.time_s - 0.055) - track.first
        after = self.spectra.frame_at(moment.onset.time_s + 0.05) - track.first
        if before < 1 or after >= len(track.db) - 1 or track.db[before] <= UNKNOWN_DB:
            return 0.0
        if new and free_partials(track.midis[after : after + 1], new, self.spectra.bin_hz)[0][:4].sum() < 2:
            return 0.0
        return float(np.median(track.db[after - 1 : after + 2]) - np.median(track.db[before - 1 : before + 2]))

    def _midi_after(self, one: _Sounding, track: Track, moment: Moment) -> float:
        """The pitch of a ringing string just after an onset: where it should be or was, before where its track went.

        A track may follow a stray that sounds louder than its own string.
        """
        after_s = moment.onset.time_s + 0.06
        at = self.spectra.frame_at(after_s) - track.first
        there = float(track.midis[int(np.clip(at, 0, len(track.midis) - 1))])
        earlier = self.spectra.frame_at(moment.onset.time_s - 0.05) - track.first
        candidates = [self._expected(one, after_s)]
        if earlier >= 0:
            candidates.append(float(track.midis[int(np.clip(earlier, 0, len(track.midis) - 1))]))
        for midi in candidates:
            if support(moment.peaks, np.array([midi - 0.1, midi, midi + 0.1]), ()).presence.max() >= STILL_THERE:
                return midi
        captured = abs(there - candidates[-1]) > SLIP_SEMITONES and self._gained_db(track, moment, ()) > CAPTURED_DB
        return candidates[0] if captured else there

    def _expected(self, one: _Sounding, time_s: float) -> float:
        """Where the score has a sounding string at a time, the slip that it began with kept."""
        offset = one.midi - one.asked.midi
        beat = self.score.beats_at(np.array(time_s))
        written = float(one.asked.note.midi_at(beat)) + self.score.tuning_cents / 100.0
        return written + (offset if abs(offset) > SLIP_SEMITONES else 0.0)

    def _lingering(self, moment: Moment, sounding: Sequence[_Sounding]) -> set[int]:
        """Strings that should have fallen silent by an onset but still sounded just before it: they ring on, and move."""
        before_s = moment.onset.time_s - 0.06
        lingering = set()
        for one in sounding:
            if one.onset.time_s < before_s and before_s - LINGER_S < one.stop_s < moment.onset.time_s + 0.06:
                pitches = (self._stance_midi(one.string, before_s), self._expected(one, min(before_s, one.stop_s - 0.01)))
                if any(self._present(before_s, midi, self._others_at(one, before_s, sounding)) for midi in pitches):
                    lingering.add(one.string)
        return lingering

    def _stray(self, moment: Moment, present: Sequence[float], lingering: set[int]) -> HeardNote | None:
        """A string of the stance that nobody asked for, struck at a moment."""
        time_s = moment.onset.time_s
        beat = (time_s - self.score.start_s) / self.score.beat_s + 1.0
        steps = self.score.expectation.figure.steps
        step = max((s for s in steps if float(s.beat) <= beat + 0.1), key=lambda s: s.number, default=steps[0])
        stances = [step.stance, *([steps[step.number - 2].stance] if step.number > 1 else [])]
        found: list[tuple[float, float, int]] = []
        for stance, price in zip(stances, (0.0, 0.05), strict=False):
            for string in sorted(set(range(1, len(self.copedent.strings) + 1)) - lingering):
                pitch = stance.midi(string, self.copedent) + self.score.tuning_cents / 100.0
                value = self._stray_value(moment, pitch, present)
                if value > STRAY_ACCEPT:
                    found.append((value - price, pitch, string))
        if not found:
            return None
        _, pitch, string = max(found)
        same = {s for _, p, s in found if abs(p - pitch) < SLIP_SEMITONES}
        midi = np.array([moment.evidence(pitch, present, 45.0).midi])
        return HeardNote(string if len(same) == 1 else None, time_s, time_s + 0.15, np.array([time_s + 0.06]), midi)
