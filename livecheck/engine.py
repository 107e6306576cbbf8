"""The one engine: blocks go in, a verdict comes out, for a device and for a file alike.

`AudioEngine` is fed mono samples in blocks of any size, `MidiEngine` timed messages; both hand what they heard
to the same alignment and judging. How the input is cut into blocks changes nothing in the verdict.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.listening import Glimpse, Listener
from livecheck.hearing.midi.glance import glances_of
from livecheck.hearing.midi.input import MidiInput
from livecheck.hearing.midi.so_far import UNSETTLED_S, MidiEarSoFar
from livecheck.hearing.scene import MARGIN_S
from livecheck.hearing.score import TimedScore
from livecheck.hearing.sound.amplifier import Amplifier
from livecheck.hearing.sound.delay_unit import DelayUnit
from livecheck.hearing.sound.ear import LEAST_FRAMES, AudioEar, Glance
from livecheck.hearing.sound.mixing import Clearness
from livecheck.hearing.sound.onset import Onset, onsets
from livecheck.hearing.sound.onset_so_far import onsets_since
from livecheck.hearing.sound.recording import PutAway, Recording, in_memory
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.ripple import Ripple
from livecheck.hearing.sound.salience import HOP_S
from livecheck.hearing.sound.tape_unit import TapeUnit
from livecheck.judging.brief import Brief
from livecheck.judging.meanwhile.remark import Remark
from livecheck.judging.meanwhile.remarks import Remarks
from livecheck.judging.places.fitting import Fitting
from livecheck.judging.spread import ONE_BY_ONE, Spread
from livecheck.judging.take import TakeJudge
from livecheck.judging.verdict import FigureVerdict, TakeVerdict
from livecheck.lesson.copedent import Copedent

if TYPE_CHECKING:
    import mido

__all__ = ["AudioEngine", "Brief", "MidiEngine"]

AUDIO_BLUR_S = 0.012
"""Standard deviation of the squared analysis window: how far audio smears a pitch curve."""

KEPT = 1 << 22
"""Bytes. Once a block of this size was let go of, glibc keeps smaller ones for the next use, which it otherwise gives
back to the system each time (mallopt(3), M_MMAP_THRESHOLD): to get their pages again took a tenth of a grading."""


class AudioEngine:
    """Grades audio: mono samples in blocks of any size."""

    def __init__(
        self,
        brief: Brief,
        rate_hz: int,
        least_frames: int = LEAST_FRAMES,
        put_away: PutAway = in_memory,
        spread: Spread = ONE_BY_ONE,
    ) -> None:
        """`least_frames`: how many observations wait for each other; the fewer, the sooner `ended` knows. `put_away`:
        where what was heard lies, if not in memory. `spread`: how at the end the take is followed while its onsets are
        looked for, and figures are listened to."""
        _keep_what_is_let_go()
        self._judge = TakeJudge(brief, spread)
        self._spread = spread
        self._ear = AudioEar(rate_hz, least_frames, put_away)
        self._put_away = put_away
        self._clearness_so_far = Clearness()

    def feed(self, samples: NDArray[np.float32]) -> None:
        self._ear.feed(samples)

    def ended(self) -> list[FigureVerdict]:
        """The figures that have ended since this was asked last, as they look so far. It changes nothing in what
        `finish` gives."""
        return self._judge.ended(self._so_far(), self._ear.recording.duration_s)

    def certain(self) -> list[Remark]:
        """What has become certain of the figure that is being played, as it looks so far. It changes nothing in what
        `finish` gives."""
        return self._judge.certain(self._so_far(), self._ear.recording.duration_s)

    def _so_far(self) -> _AudioSoFar:
        self._follow(self._ear)
        return _AudioSoFar(self._ear, self._judge.brief.lesson.copedent, self._clearness_so_far)

    def finish(self, take: str) -> TakeVerdict:
        """The verdict on all that was fed. NothingFound if no figure of the lesson is in it."""
        ear = self._ear
        ear.finish()
        ripple = Ripple(ear.recording)
        unit = DelayUnit.in_take(ripple) or TapeUnit.in_take(ripple)
        if unit is not None:
            self._judge, ear = TakeJudge(self._judge.brief, self._spread), self._without(unit)
        _, found = self._spread.both(lambda: self._follow(ear), lambda: onsets(ear.recording))
        sound = _AudioSound(ear, found, self._judge.brief.lesson.copedent, unit is not None, self._put_away)
        return self._judge.verdict(take, sound)

    def _follow(self, ear: AudioEar) -> None:
        """Follow what became due since this was asked last."""
        for glance in ear.glances():
            self._judge.follow(glance)

    def _without(self, unit: DelayUnit | TapeUnit) -> AudioEar:
        """The take heard once more, without a delay unit's repeats."""
        ear = AudioEar(WORK_RATE_HZ, put_away=self._put_away)
        for piece in unit.taken_off(self._ear.recording):
            ear.feed(piece)
        ear.finish()
        return ear

    def heard(self, figure: FigureVerdict) -> list[HeardNote]:
        """The notes that a figure of the verdict was judged by."""
        return self._judge.heard(figure)

    def samples(self, from_s: float, until_s: float) -> NDArray[np.float32]:
        """What was fed between two times, mono, at `WORK_RATE_HZ`; silence outside the take."""
        return self._ear.recording.slice(round(from_s * WORK_RATE_HZ), round(until_s * WORK_RATE_HZ))


def _keep_what_is_let_go() -> None:
    np.empty(KEPT, dtype=np.uint8)


class _AudioSound:
    source: Literal["audio", "midi"] = "audio"
    blur_s = AUDIO_BLUR_S

    def __init__(
        self, ear: AudioEar, found: Sequence[Onset], copedent: Copedent, echoes: bool, put_away: PutAway
    ) -> None:
        self._ear = ear
        self._copedent = copedent
        self._put_away = put_away
        self.echoes = echoes
        self._clearness = Clearness()
        self._listener = Listener(ear.recording, found, copedent, self._clearness)
        self._glimpsed: dict[float, tuple[TimedScore, float]] | None = {}
        """What was asked for at first sight from when on; None once that told whether an amplifier is to be taken off.
        """

    def glances(self, from_s: float, until_s: float) -> Iterator[Glance]:
        return self._ear.again(from_s, until_s)

    def glimpse(self, score: TimedScore, from_s: float, until_s: float) -> list[Glimpse]:
        if self._glimpsed is not None:
            self._glimpsed[from_s] = score, until_s
        return self._listener.glimpse(score, from_s, until_s)

    def hear(self, score: TimedScore, from_s: float, until_s: float) -> list[HeardNote]:
        if self._glimpsed is not None:
            if self._clearness.is_mixed:
                self._take_off_amplifier(self._glimpsed)
            self._glimpsed = None
        return self._listener.hear(score, from_s, until_s)

    def _take_off_amplifier(self, glimpsed: Mapping[float, tuple[TimedScore, float]]) -> None:
        """From here on the take is listened to as it was before an amplifier that was driven, if it can be told how
        that bends it; `glimpsed` is looked at once more, as some of it may still be mixed."""
        amplifier = Amplifier.in_take(self._ear.recording, self._clearness.chords)
        if amplifier is None:
            return
        recording = Recording(self._put_away)
        for piece in amplifier.taken_off(self._ear.recording):
            recording.append(piece)
        self._listener = Listener(recording, onsets(recording), self._copedent)
        for from_s, (score, until_s) in glimpsed.items():
            self._listener.glimpse(score, from_s, until_s)


class _AudioSoFar:
    """The take up to now; onsets are looked for only in the part that is asked about."""

    source: Literal["audio", "midi"] = "audio"
    blur_s = AUDIO_BLUR_S
    echoes = False

    def __init__(self, ear: AudioEar, copedent: Copedent, clearness: Clearness) -> None:
        self._ear = ear
        self._copedent = copedent
        self._clearness = clearness
        self._listening: tuple[float, Listener] | None = None

    def glances(self, from_s: float, until_s: float) -> Iterator[Glance]:
        return self._ear.again(from_s, until_s)

    def glimpse(self, score: TimedScore, from_s: float, until_s: float) -> list[Glimpse]:
        return self._listener(score, from_s).glimpse(score, from_s, until_s)

    def hear(self, score: TimedScore, from_s: float, until_s: float) -> list[HeardNote]:
        return self._listener(score, from_s).hear(score, from_s, until_s)

    def _listener(self, score: TimedScore, from_s: float) -> Listener:
        from_s = max(from_s, score.start_s - MARGIN_S)
        if self._listening is None or from_s < self._listening[0]:
            recording = self._ear.recording
            found = onsets_since(recording, from_s - MARGIN_S)
            self._listening = from_s - MARGIN_S, Listener(recording, found, self._copedent, self._clearness)
        return self._listening[1]


class MidiEngine:
    """Grades MIDI: timed messages."""

    def __init__(self, brief: Brief, midi_input: MidiInput) -> None:
        self._judge = TakeJudge(brief)
        self._ear = MidiEarSoFar(midi_input)
        self._last_s = 0.0
        self._so_far = TakeJudge(brief)
        """For what has been played so far; its frames are not quite those of the whole take."""
        self._frames = 0
        self._remarks = Remarks(Fitting(brief))

    def feed(self, time_s: float, message: mido.Message) -> None:
        self._ear.feed(time_s, message)
        self._last_s = max(self._last_s, time_s)
        for sound in self._ear.newly_struck():
            self._remarks.struck(sound)

    def certain(self, now_s: float) -> list[Remark]:
        """What has become certain of the figure that is being played, as it looks so far. It changes nothing in what
        `finish` gives."""
        return self._remarks.certain(now_s)

    @property
    def is_waiting(self) -> bool:
        """Whether something may become certain at any moment though no message comes."""
        return self._remarks.is_waiting

    def ended(self, now_s: float) -> list[FigureVerdict]:
        """The figures that have ended since this was asked last, as they look so far. It changes nothing in what
        `finish` gives."""
        stop = int((now_s - UNSETTLED_S) / HOP_S)
        if stop > self._frames:
            first, self._frames = self._frames, stop
            for glance in self._ear.glances(first, stop, now_s):
                self._so_far.follow(glance)
        ended = self._so_far.ended(_MidiSoFar(self._ear, now_s), now_s)
        for verdict in ended:
            self._remarks.ended(verdict)
        return ended

    def finish(self, take: str) -> TakeVerdict:
        """The verdict on all that was fed. NothingFound if no figure of the lesson is in it."""
        sound = _MidiSound(self._ear.finish(self._last_s))
        for glance in sound.glances(0.0, float("inf")):
            self._judge.follow(glance)
        return self._judge.verdict(take, sound)

    def heard(self, figure: FigureVerdict) -> list[HeardNote]:
        """The notes that a figure of the verdict was judged by."""
        return self._judge.heard(figure)


class _MidiSoFar:
    """The take up to now."""

    source: Literal["audio", "midi"] = "midi"
    blur_s = 0.0
    echoes = False

    def __init__(self, ear: MidiEarSoFar, now_s: float) -> None:
        self._ear = ear
        self._now_s = now_s

    def glances(self, from_s: float, until_s: float) -> Iterator[Glance]:
        return glances_of(self._ear.notes_since(from_s, self._now_s), from_s, until_s)

    def glimpse(self, *_: object) -> None:
        return None

    def hear(self, score: TimedScore, from_s: float, until_s: float) -> list[HeardNote]:
        from_s = max(from_s, score.start_s - score.beat_s)
        return _MidiSound(self._ear.notes_since(from_s, self._now_s)).hear(score, from_s, until_s)


class _MidiSound:
    source: Literal["audio", "midi"] = "midi"
    blur_s = 0.0
    echoes = False

    def __init__(self, notes: Sequence[HeardNote]) -> None:
        self._notes = notes

    def glances(self, from_s: float, until_s: float) -> Iterator[Glance]:
        return glances_of(self._notes, from_s, until_s)

    def glimpse(self, *_: object) -> None:
        return None

    def hear(self, score: TimedScore, from_s: float, until_s: float) -> list[HeardNote]:
        from_s = max(from_s, score.start_s - score.beat_s)
        return [note for note in self._notes if from_s <= note.start_s < until_s]
