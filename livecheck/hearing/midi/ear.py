"""The ear for MIDI: fed timed messages, it gives the notes with their pitch curves once the take ends.

Time is seconds from the start of the take, pitch MIDI numbers with decimals: the key plus the channel's bend. A bend
belongs to its channel and lasts, so a note that starts under it has it. The bend range is RPN 0 (semitones by CC 6,
cents by CC 38). A channel that is a string sounds one note at a time, any other channel one note a key. Messages mean
what the MIDI 1.0 Detailed Specification says.
"""

from __future__ import annotations

from array import array
from bisect import bisect_right
from typing import TYPE_CHECKING

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.midi.input import CHANNELS, MidiInput

if TYPE_CHECKING:
    import mido

GLIDE_GAP_S = 0.06
"""Bends no further apart are points of one glide, linear in between; a bend after a longer rest is a step."""
STEP_S = 0.005
"""How long a step takes in the curve."""
JOIN_GAP_S = 0.02
"""How far apart the old note's end and the new note's start may be where a source retriggers."""
JOIN_SEMITONES = 0.3
"""How far the new note's pitch may be from where the old one was or was going."""
GLITCH_S = 0.005
"""Five messages at a MIDI cable's speed: bends so near to a retrigger belong to the change of key, not to the music."""

_NO_PARAMETER = (127, 127)
_BEND_RANGE = (0, 0)
_RPN_LSB, _RPN_MSB, _NRPN_LSB, _NRPN_MSB = 100, 101, 98, 99
_DATA_MSB, _DATA_LSB = 6, 38
_SUSTAIN = 64
_ALL_SOUND_OFF, _RESET_CONTROLLERS, _ALL_NOTES_OFF, _LAST_MODE = 120, 121, 123, 127


class Sound:
    """One note while it is being heard: its pitch changes as they came, piecewise constant."""

    __slots__ = ("_midis", "_times_s", "channel", "end_s", "key", "string")

    def __init__(self, channel: int, string: int | None, key: int, time_s: float, midi: float) -> None:
        self.channel = channel
        self.string = string
        self.key = key
        self.end_s: float | None = None
        # An hour has some hundred thousand bends: two numbers each, and nothing else.
        self._times_s = array("d", (time_s,))
        self._midis = array("d", (midi,))

    @property
    def first(self) -> tuple[float, float]:
        """(time, midi) at the note-on."""
        return self._times_s[0], self._midis[0]

    @property
    def changes(self) -> list[tuple[float, float]]:
        """All of them, the first at the note-on."""
        return list(zip(self._times_s, self._midis, strict=True))

    def since(self, time_s: float) -> list[tuple[float, float]]:
        """The change that is in force at a time, and all after it."""
        at = max(bisect_right(self._times_s, time_s) - 1, 0)
        return list(zip(self._times_s[at:], self._midis[at:], strict=True))

    def bend(self, time_s: float, midi: float) -> None:
        if self._times_s[-1] == time_s:
            self._midis[-1] = midi
        else:
            self._times_s.append(time_s)
            self._midis.append(midi)

    def go_on(self, after: Sound, changes: list[tuple[float, float]]) -> None:
        """Be one note with another one, whose changes together are these."""
        times_s, midis = zip(*changes, strict=True)
        self._times_s, self._midis = array("d", times_s), array("d", midis)
        self.key, self.end_s = after.key, after.end_s

    def heard(self, end_s: float) -> HeardNote:
        first, *rest = self.changes
        points = [first]
        for time_s, midi in rest:
            if time_s - points[-1][0] > GLIDE_GAP_S:
                points.append((time_s - STEP_S, points[-1][1]))
            points.append((time_s, midi))
        if points[-1][0] < end_s:
            points.append((end_s, points[-1][1]))
        times_s, midis = np.array(points).T
        return HeardNote(self.string, first[0], end_s, times_s, midis)


class MidiEar:
    """Messages in, in order of time; notes out."""

    def __init__(self, midi_input: MidiInput) -> None:
        self._retrigger = midi_input.retrigger
        self._sounds: list[Sound] = []
        self._channels = [
            _Channel(number, midi_input.channels.get(number), midi_input.bend_semitones, self._sounds)
            for number in range(1, CHANNELS + 1)
        ]
        self._now_s = 0.0

    def feed(self, time_s: float, message: mido.Message | mido.MetaMessage) -> None:
        """Take in one message; a time before the last one's counts as the last one's."""
        self._now_s = max(self._now_s, time_s)
        if hasattr(message, "channel") and not message.is_meta:
            self._channels[message.channel].feed(self._now_s, message)

    def finish(self, end_s: float) -> list[HeardNote]:
        """All notes in order of their start; what still sounds ends at end_s, or with the last message if later."""
        end_s = max(end_s, self._now_s)
        sounds = _joined(self._sounds) if self._retrigger else self._sounds
        notes = [sound.heard(end_s if sound.end_s is None else sound.end_s) for sound in sounds]
        return sorted((note for note in notes if note.end_s > note.start_s), key=lambda note: note.start_s)


class _Channel:
    """The state of one channel: what sounds on it, its bend and its controllers."""

    def __init__(self, number: int, string: int | None, bend_semitones: float, sounds: list[Sound]) -> None:
        self.number = number
        self.string = string
        self.sounds = sounds
        self.sounding: dict[int, Sound] = {}
        self.held: set[int] = set()
        """Keys released while the sustain pedal is down."""
        self.sustain = False
        self.bend_share = 0.0
        """-1 to 1 of the bend range."""
        self.range_semitones = bend_semitones
        self.parameter = _NO_PARAMETER
        """The registered parameter that data entry sets, as (MSB, LSB)."""

    def feed(self, time_s: float, message: mido.Message) -> None:
        if message.type == "note_on" and message.velocity > 0:
            self._start(time_s, message.note)
        elif message.type in ("note_on", "note_off"):
            self._release(time_s, message.note)
        elif message.type == "pitchwheel":
            self._bend(time_s, message.pitch / 8192.0)
        elif message.type == "control_change":
            self._control(time_s, message.control, message.value)

    def _start(self, time_s: float, key: int) -> None:
        for other in list(self.sounding) if self.string is not None else [key]:
            self._end(time_s, other)
        sound = Sound(self.number, self.string, key, time_s, self._midi(key))
        self.sounding[key] = sound
        self.sounds.append(sound)

    def _release(self, time_s: float, key: int) -> None:
        if self.sustain:
            self.held.add(key)
        else:
            self._end(time_s, key)

    def _end(self, time_s: float, key: int) -> None:
        self.held.discard(key)
        if sound := self.sounding.pop(key, None):
            sound.end_s = time_s

    def _midi(self, key: int) -> float:
        return key + self.bend_share * self.range_semitones

    def _bend(self, time_s: float, share: float) -> None:
        self.bend_share = share
        for key, sound in self.sounding.items():
            sound.bend(time_s, self._midi(key))

    def _control(self, time_s: float, control: int, value: int) -> None:
        if control == _RPN_MSB:
            self.parameter = (value, self.parameter[1])
        elif control == _RPN_LSB:
            self.parameter = (self.parameter[0], value)
        elif control in (_NRPN_LSB, _NRPN_MSB):
            self.parameter = _NO_PARAMETER
        elif control in (_DATA_MSB, _DATA_LSB) and self.parameter == _BEND_RANGE:
            whole = value if control == _DATA_MSB else int(self.range_semitones)
            self.range_semitones = whole + (value / 100.0 if control == _DATA_LSB else 0.0)
            self._bend(time_s, self.bend_share)
        elif control == _SUSTAIN:
            self._pedal(time_s, value >= 64)
        elif control == _ALL_SOUND_OFF:
            for key in list(self.sounding):
                self._end(time_s, key)
        elif control == _RESET_CONTROLLERS:
            self.parameter = _NO_PARAMETER
            self._pedal(time_s, False)
            self._bend(time_s, 0.0)
        elif _ALL_NOTES_OFF <= control <= _LAST_MODE:
            for key in list(self.sounding):
                self._release(time_s, key)

    def _pedal(self, time_s: float, down: bool) -> None:
        self.sustain = down
        if not down:
            for key in list(self.held):
                self._end(time_s, key)


def _joined(sounds: list[Sound]) -> list[Sound]:
    """The sounds of a source that retriggers: those that continue an earlier one are made one with it."""
    whole: list[Sound] = []
    last: dict[int, Sound] = {}
    for sound in sounds:
        before = last.get(sound.channel)
        changes = None if before is None else _continued(before, sound)
        if before is None or changes is None:
            last[sound.channel] = sound
            whole.append(sound)
        else:
            before.go_on(sound, changes)
    return whole


def _continued(before: Sound, after: Sound) -> list[tuple[float, float]] | None:
    """The pitch changes of both as one note, or None where the second is a pick.

    A new note-on on the key that sounded can only be a pick: a source changes the key to follow the pitch.
    """
    start_s = after.first[0]
    if before.key == after.key or before.end_s is None or abs(start_s - before.end_s) > JOIN_GAP_S:
        return None
    olds, news = before.changes, after.changes
    settled = [change for change in olds if change[0] < before.end_s - GLITCH_S]
    soon = [change for change in news if change[0] <= start_s + GLITCH_S]
    later = [(start_s, soon[-1][1]), *news[len(soon) :]]
    for old in (olds, settled):
        for new in (news, later):
            if old and _meets(old, new[0]):
                return [change for change in old if change[0] < start_s] + new
    return None


def _meets(changes: list[tuple[float, float]], new: tuple[float, float]) -> bool:
    """Whether a pitch lies where the old one was, or was gliding to, or in between."""
    time_s, midi = changes[-1]
    ahead = midi
    if len(changes) > 1 and new[0] - changes[-2][0] <= 2 * GLIDE_GAP_S:
        earlier_s, earlier = changes[-2]
        ahead += (midi - earlier) / (time_s - earlier_s) * (new[0] - time_s)
    return min(midi, ahead) - JOIN_SEMITONES <= new[1] <= max(midi, ahead) + JOIN_SEMITONES
