"""What was played in a take, from audio or MIDI, as lines: what one string did from its pick to its end."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from livecheck.drafting.attacks import attacks
from livecheck.drafting.line import Line
from livecheck.drafting.lines import line_of_note, lines_of
from livecheck.drafting.together import Together
from livecheck.hearing.midi.ear import MidiEar
from livecheck.hearing.midi.input import MidiInput
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import Resampler
from livecheck.lesson.copedent import Copedent

if TYPE_CHECKING:
    import mido


def lines_in_audio(blocks: Iterable[NDArray[np.float32]], rate_hz: int, copedent: Copedent) -> list[Line]:
    """The lines in mono samples, in order of their picks. `copedent`: what can have been played."""
    recording, resampler = Recording(), Resampler(rate_hz)
    for block in blocks:
        recording.append(resampler.feed(block))
    recording.append(resampler.finish())
    found, lag_s = attacks(recording, Together(copedent))
    return lines_of(recording, found, lag_s)


def lines_in_midi(
    messages: Iterable[tuple[float, mido.Message | mido.MetaMessage]], midi_input: MidiInput
) -> list[Line]:
    """The lines in timed messages, in order of their picks; each on the string that its channel stands for."""
    ear, last_s = MidiEar(midi_input), 0.0
    for time_s, message in messages:
        ear.feed(time_s, message)
        last_s = max(last_s, time_s)
    lines = (line_of_note(note) for note in ear.finish(last_s))
    return [line for line in lines if line is not None]
