"""Standard MIDI Files as timed messages.

Times are seconds from the start of the file; the tempo map is honoured (500000 microseconds a beat until the first
tempo event), and so is SMPTE division, as the Standard MIDI Files 1.0 specification (RP-001) has it.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from operator import itemgetter

import mido

from livecheck.errors import Unusable
from livecheck.sources.file import read_bytes

MOST_BYTES = 16_000_000
"""Ten strings bent a hundred times a second for an hour."""
LONGEST_S = 3 * 3600.0
LONGEST_PAUSE_S = 1800.0
"""A player who pauses for longer has ended the take. One damaged time makes a pause of hours, in which strings ring on;
to listen to that would take half a minute, for nothing."""
WANTED = "a Standard MIDI File of type 0 or 1"
_DEFAULT_TEMPO_US = 500_000
_DROP_FRAME = 29
"""The SMPTE code for 30 drop frame, which runs at 30000/1001 frames a second."""


@dataclass(frozen=True)
class MidiTake:
    """A take as messages in order of time; the last one ends the file."""

    messages: tuple[tuple[float, mido.Message | mido.MetaMessage], ...]

    @property
    def duration_s(self) -> float:
        return self.messages[-1][0]


def read_midi(path: str) -> MidiTake:
    """The messages of a file. Unusable if it is damaged, asynchronous (type 2), without notes, or too long."""
    data = read_bytes(path, MOST_BYTES, WANTED)
    try:
        file = mido.MidiFile(file=io.BytesIO(data))
    except EOFError:
        raise Unusable(f"{path}: the MIDI file ends in the middle; wanted {WANTED}, whole") from None
    except (OSError, ValueError, LookupError, TypeError, ArithmeticError, mido.KeySignatureError) as error:
        raise Unusable(f"{path}: the MIDI file is damaged ({error}); wanted {WANTED}") from None
    if file.type not in (0, 1, 2):
        raise Unusable(f"{path}: the MIDI file is damaged (there is no type {file.type & 0xFFFF}); wanted {WANTED}")
    if file.type == 2:
        raise Unusable(f"{path}: is a MIDI file of type 2, whose tracks share no time; wanted {WANTED}")
    if file.ticks_per_beat == 0 or (file.ticks_per_beat < 0 and file.ticks_per_beat & 0xFF == 0):
        per = "beat" if file.ticks_per_beat == 0 else "frame"
        raise Unusable(f"{path}: the MIDI file is damaged (no ticks a {per}); wanted {WANTED}")
    messages = tuple(_timed(file))
    if not any(message.type == "note_on" and message.velocity > 0 for _, message in messages):
        raise Unusable(f"{path}: has no note in it; wanted a take")
    _check_times(path, [time_s for time_s, _ in messages])
    return MidiTake(messages)


def _check_times(path: str, times_s: Sequence[float]) -> None:
    """Unusable if a take is too long, or has a pause in it that is."""
    for before_s, after_s in pairwise((0.0, *times_s)):
        if after_s - before_s > LONGEST_PAUSE_S:
            pause = f"nothing comes for {_duration(after_s - before_s)} after {_duration(before_s)}"
            raise Unusable(f"{path}: {pause}; wanted a take whose pauses are {_duration(LONGEST_PAUSE_S)} at most")
    if times_s[-1] > LONGEST_S:
        raise Unusable(f"{path}: lasts {_duration(times_s[-1])}; wanted {_duration(LONGEST_S)} at most")


def _duration(duration_s: float) -> str:
    """Seconds as a player reads them: 12.5 s, 30 min, 2.53 hours."""
    if duration_s < 60.0:
        return f"{duration_s:.1f} s"
    return f"{duration_s / 60.0:.0f} min" if duration_s < 2 * 3600.0 else f"{duration_s / 3600.0:.3g} hours"


def _timed(file: mido.MidiFile) -> Iterator[tuple[float, mido.Message | mido.MetaMessage]]:
    division = file.ticks_per_beat
    tick_s = _smpte_tick_s(division) if division < 0 else _DEFAULT_TEMPO_US / 1e6 / division
    now_s, before = 0.0, 0
    for ticks, message in _merged(file.tracks):
        now_s += (ticks - before) * tick_s
        before = ticks
        if message.type == "set_tempo" and division > 0:
            tick_s = message.tempo / 1e6 / division
        yield now_s, message


def _merged(tracks: Iterable[mido.MidiTrack]) -> list[tuple[int, mido.Message | mido.MetaMessage]]:
    """All tracks' messages in order of their ticks from the start; at one tick in the tracks' order."""
    merged: list[tuple[int, mido.Message | mido.MetaMessage]] = []
    for track in tracks:
        ticks = accumulate(message.time for message in track)
        merged += zip(ticks, track, strict=True)
    return sorted(merged, key=itemgetter(0))


def _smpte_tick_s(division: int) -> float:
    """Seconds a tick where the division's first byte is minus the frames a second, the second the ticks a frame."""
    frames, ticks = -(division >> 8), division & 0xFF
    rate_hz = 30_000.0 / 1001.0 if frames == _DROP_FRAME else float(frames)
    return 1.0 / (rate_hz * ticks)
