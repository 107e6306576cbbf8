"""What is heard of a take that still goes on."""

from __future__ import annotations

import mido
import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.midi.ear import MidiEar
from livecheck.hearing.midi.glance import glances_of
from livecheck.hearing.midi.input import MidiInput
from livecheck.hearing.midi.so_far import LONGEST_S, UNSETTLED_S, MidiEarSoFar
from livecheck.hearing.sound.onset import onsets
from livecheck.hearing.sound.onset_so_far import EDGE_S, onsets_since
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.salience import HOP_S

PICKS_S = (0.5, 1.25, 2.0, 2.6, 3.3, 4.1)


def plucked() -> Recording:
    times_s = np.arange(round(5.0 * WORK_RATE_HZ)) / WORK_RATE_HZ
    sound = np.zeros_like(times_s)
    for number, pick_s in enumerate(PICKS_S):
        since_s = times_s - pick_s
        tone = sum(np.sin(2 * np.pi * 220.0 * (1 + number / 7) * k * since_s) / k for k in range(1, 6))
        sound += np.where(since_s >= 0.0, 0.1 * tone * np.exp(-2.0 * np.maximum(since_s, 0.0)), 0.0)
    recording = Recording()
    recording.append(sound.astype(np.float32))
    return recording


@pytest.mark.parametrize("from_s", [0.0, 0.9, 2.3, 2.55])
def test_the_onsets_of_a_part_are_those_of_the_whole(from_s: float) -> None:
    recording = plucked()
    end_s = recording.duration_s - EDGE_S
    whole = [onset for onset in onsets(recording) if from_s <= onset.time_s < end_s]
    part = onsets_since(recording, from_s)
    assert [onset.time_s for onset in part] == pytest.approx([onset.time_s for onset in whole], abs=1e-3)
    assert [onset.rise for onset in part] == pytest.approx([onset.rise for onset in whole], abs=0.05)
    assert [onset.time_s for onset in part] == pytest.approx([s for s in PICKS_S if s >= from_s], abs=0.01)


def test_where_the_recording_stops_no_onset_is_heard() -> None:
    recording = Recording()
    recording.append(plucked().slice(0, round(2.3 * WORK_RATE_HZ)))
    assert all(onset.time_s < recording.duration_s - EDGE_S for onset in onsets_since(recording, 0.0))
    assert len(onsets_since(recording, 0.0)) == 3


INPUT = MidiInput({string: string for string in range(1, 11)}, retrigger=True)


def messages() -> list[tuple[float, mido.Message]]:
    """A note that glides and is retriggered on its way, a short one, and one that is held."""
    made = [(0.5, mido.Message("note_on", note=60, velocity=90))]
    made += [(0.6 + 0.01 * k, mido.Message("pitchwheel", pitch=292 * k)) for k in range(15)]
    made += [
        (0.76, mido.Message("note_off", note=60)),
        (0.765, mido.Message("pitchwheel", pitch=0)),
        (0.765, mido.Message("note_on", note=61, velocity=90)),
        (1.5, mido.Message("note_off", note=61)),
        (1.6, mido.Message("note_on", note=67, velocity=90, channel=2)),
        (1.8, mido.Message("note_off", note=67, channel=2)),
        (2.0, mido.Message("note_on", note=55, velocity=90, channel=4)),
        (4.0, mido.Message("note_off", note=55, channel=4)),
    ]
    return made


def _same(some: list[HeardNote], others: list[HeardNote]) -> bool:
    return len(some) == len(others) and all(
        (one.string, one.start_s, one.end_s) == (other.string, other.start_s, other.end_s)
        and np.array_equal(one.midis, other.midis)
        for one, other in zip(some, others, strict=True)
    )


def test_asked_before_the_end_the_notes_are_those_of_a_take_that_ends_there() -> None:
    asked = MidiEarSoFar(INPUT)
    for number, (time_s, message) in enumerate(messages()):
        asked.feed(time_s, message)
        other = MidiEar(INPUT)
        for earlier_s, earlier in messages()[: number + 1]:
            other.feed(earlier_s, earlier)
        assert _same(asked.notes_since(0.0, time_s + 0.05), other.finish(time_s + 0.05))
    plain = MidiEar(INPUT)
    for time_s, message in messages():
        plain.feed(time_s, message)
    whole = plain.finish(5.0)
    assert _same(asked.finish(5.0), whole)
    assert len(whole) == 3


def test_only_what_sounded_since_is_told() -> None:
    ear = MidiEarSoFar(INPUT)
    for time_s, message in messages():
        ear.feed(time_s, message)
    assert [note.string for note in ear.notes_since(1.7, 5.0)] == [3, 5]
    assert [note.string for note in ear.notes_since(3.0, 5.0)] == [5]
    assert ear.notes_since(4.5, 5.0) == []


def test_what_is_long_past_is_not_looked_at_and_yet_not_forgotten() -> None:
    ear = MidiEarSoFar(INPUT)
    for time_s, message in messages():
        ear.feed(time_s, message)
    later_s = 5.0 + LONGEST_S
    ear.feed(later_s, mido.Message("note_on", note=64, velocity=90))
    assert [note.start_s for note in ear.notes_since(later_s, later_s + 1.0)] == [later_s]
    assert [note.start_s for note in ear.notes_since(0.0, later_s + 1.0)] == [later_s]
    assert len(ear.finish(later_s + 1.0)) == 4


def test_glances_as_they_become_due_are_those_of_the_whole() -> None:
    ear, due, first = MidiEarSoFar(INPUT), [], 0
    waiting = messages()
    for turn in range(250):
        now_s = 0.02 * turn
        while waiting and waiting[0][0] <= now_s:
            ear.feed(*waiting.pop(0))
        stop = max(first, int((now_s - UNSETTLED_S) / HOP_S))
        due += list(ear.glances(first, stop, now_s))
        first = stop
    whole = list(glances_of(ear.finish(0.0)))
    for part in ("contrast", "onset", "loud"):
        expected = np.concatenate([getattr(glance, part) for glance in whole])
        found = np.concatenate([getattr(glance, part) for glance in due])
        assert np.array_equal(found[: len(expected)], expected)
        assert not found[len(expected) :].any()
