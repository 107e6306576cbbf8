"""The MIDI ear against the MIDI 1.0 Detailed Specification (4.2) and General MIDI System Level 1 (RP-003)."""

from __future__ import annotations

from collections.abc import Sequence

import mido
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.midi.ear import JOIN_GAP_S, STEP_S, MidiEar
from livecheck.hearing.midi.input import CHANNELS, MidiInput

Timed = tuple[float, Sequence[int]]

STRINGS = MidiInput({number: number for number in range(1, CHANNELS + 1)})
KEYBOARD = MidiInput({})
RETRIGGERING = MidiInput(STRINGS.channels, retrigger=True)

ON, OFF, CONTROL, BEND = 0x90, 0x80, 0xB0, 0xE0
BEND_CENTRE = (BEND, 0x00, 0x40)


def heard(messages: Sequence[Timed], midi_input: MidiInput = STRINGS, end_s: float = 10.0) -> list[HeardNote]:
    """What an ear makes of messages in bytes, as the specification writes them; on channel 1 unless they say else."""
    ear = MidiEar(midi_input)
    for time_s, data in messages:
        ear.feed(time_s, mido.Message.from_bytes(data))
    return ear.finish(end_s)


def pitch(note: HeardNote, time_s: float) -> float:
    return float(np.interp(time_s, note.times_s, note.midis))


def bend_to(semitones: float, range_semitones: float, channel: int = 1) -> tuple[int, int, int]:
    value = 8192 + round(semitones / range_semitones * 8192)
    return BEND + channel - 1, value & 0x7F, value >> 7


def rpn(msb: int, lsb: int, *data: tuple[int, int]) -> list[Timed]:
    return [(0.0, (CONTROL, control, value)) for control, value in ((101, msb), (100, lsb), *data)]


def test_a_note_has_its_channels_string_its_key_and_its_times() -> None:
    (note,) = heard([(1.0, (ON + 4, 59, 100)), (2.5, (OFF + 4, 59, 64))])
    assert (note.string, note.start_s, note.end_s) == (5, 1.0, 2.5)
    assert note.midis.tolist() == [59.0, 59.0]
    assert note.times_s.tolist() == [1.0, 2.5]


def test_a_channel_without_a_string_gives_none() -> None:
    (note,) = heard([(0.0, (ON + 11, 60, 100))], MidiInput({1: 1}), end_s=3.0)
    assert (note.string, note.end_s) == (None, 3.0)


def test_a_note_on_of_velocity_0_is_a_note_off() -> None:
    # MIDI 1.0, "Note-Off": a note-on with velocity 0 turns a note off.
    (note,) = heard([(1.0, (ON, 60, 100)), (2.0, (ON, 60, 0))])
    assert note.end_s == 2.0


@pytest.mark.parametrize(
    ("data", "semitones"),
    [
        ((BEND, 0x00, 0x40), 0.0),  # MIDI 1.0, "Pitch bend change": least significant byte first, 2000H is the centre
        ((BEND, 0x00, 0x00), -2.0),  # GM System Level 1: a range of two semitones each way unless RPN 0 says otherwise
        ((BEND, 0x7F, 0x7F), 2.0 * 8191 / 8192),
        ((BEND, 0x00, 0x60), 1.0),
    ],
)
def test_bends_have_fourteen_bits_and_reach_two_semitones(data: Sequence[int], semitones: float) -> None:
    (note,) = heard([(0.0, data), (1.0, (ON, 60, 100))])
    assert pitch(note, 1.5) == pytest.approx(60.0 + semitones, abs=1e-9)


def test_rpn_0_sets_the_range_in_semitones_and_cents() -> None:
    # MIDI 1.0, table of registered parameter numbers: RPN 0, pitch bend sensitivity, MSB semitones, LSB cents.
    (note,) = heard([*rpn(0, 0, (6, 12), (38, 50)), (0.5, (BEND, 0, 0)), (1.0, (ON, 60, 100))])
    assert pitch(note, 2.0) == pytest.approx(60.0 - 12.5)


def test_a_new_msb_sets_the_cents_to_nothing() -> None:
    # MIDI 1.0, "Control change": when an MSB is received, the receiver takes its LSB as zero (from memory).
    (note,) = heard([*rpn(0, 0, (6, 12), (38, 50), (6, 24)), (0.5, (BEND, 0, 0)), (1.0, (ON, 60, 100))])
    assert pitch(note, 2.0) == pytest.approx(36.0)


@pytest.mark.parametrize(
    "deselected",
    [
        rpn(127, 127),  # the null function number
        rpn(0, 1),  # fine tuning
        [(0.0, (CONTROL, 99, 0)), (0.0, (CONTROL, 98, 0))],  # a non-registered parameter
        [(0.0, (CONTROL, 121, 0))],  # reset all controllers, RP-015: the parameter becomes null, the range stays
    ],
)
def test_data_entry_counts_only_while_rpn_0_is_selected(deselected: list[Timed]) -> None:
    (note,) = heard(
        [*rpn(0, 0, (6, 12)), *deselected, (0.0, (CONTROL, 6, 24)), (0.5, (BEND, 0, 0)), (1.0, (ON, 60, 100))]
    )
    assert pitch(note, 2.0) == pytest.approx(48.0)


def test_the_range_of_the_input_holds_until_the_take_gives_one() -> None:
    wide = MidiInput({1: 1}, bend_semitones=12.0)
    before, after = heard(
        [
            (0.0, (BEND, 0, 0)),
            (0.0, (ON, 60, 100)),
            *[(2.0, data) for _, data in rpn(0, 0, (6, 2))],
            (3.0, (ON, 60, 100)),
        ],
        wide,
    )
    assert (pitch(before, 1.0), pitch(before, 2.5), pitch(after, 4.0)) == pytest.approx((48.0, 58.0, 58.0))


def test_a_bend_lasts_on_its_own_channel() -> None:
    first, second = heard([(0.0, (BEND, 0, 0)), (1.0, (ON, 60, 100)), (1.0, (ON + 1, 60, 100))])
    assert (first.string, pitch(first, 2.0)) == (1, 58.0)
    assert (second.string, pitch(second, 2.0)) == (2, 60.0)


def test_bends_close_together_are_a_glide_and_a_late_one_is_a_step() -> None:
    glide: list[Timed] = [(1.0 + 0.02 * i, bend_to(0.1 * i, 2.0)) for i in range(11)]
    (note,) = heard([(0.0, (ON, 60, 100)), *glide, (3.0, BEND_CENTRE), (4.0, (OFF, 60, 0))])
    inside = np.arange(1.0, 1.2, 0.001)
    assert np.interp(inside, note.times_s, note.midis) == pytest.approx(60.0 + (inside - 1.0) * 5.0, abs=0.002)
    assert pitch(note, 3.0 - 2 * STEP_S) == pytest.approx(61.0, abs=1e-3)
    assert pitch(note, 3.0) == 60.0
    assert np.all(np.diff(note.times_s) > 0.0)


def test_striking_a_sounding_string_ends_the_old_note() -> None:
    first, second = heard([(1.0, (ON, 60, 100)), (2.0, (ON, 62, 100)), (2.1, (OFF, 60, 0)), (3.0, (OFF, 62, 0))])
    assert (first.start_s, first.end_s, second.start_s, second.end_s) == (1.0, 2.0, 2.0, 3.0)


def test_a_keyboards_keys_sound_together() -> None:
    low, high = heard([(1.0, (ON, 60, 100)), (1.5, (ON, 64, 100)), (2.0, (OFF, 60, 0)), (3.0, (OFF, 64, 0))], KEYBOARD)
    assert (low.end_s, high.end_s) == (2.0, 3.0)


def test_the_sustain_pedal_holds_released_keys() -> None:
    # MIDI 1.0, controller 64: 0 to 63 off, 64 to 127 on.
    note, other = heard(
        [
            (0.0, (CONTROL, 64, 64)),
            (1.0, (ON, 60, 100)),
            (1.0, (ON, 64, 100)),
            (2.0, (OFF, 60, 0)),
            (3.0, (CONTROL, 64, 63)),
            (4.0, (OFF, 64, 0)),
        ],
        KEYBOARD,
    )
    assert (note.end_s, other.end_s) == (3.0, 4.0)


def test_a_held_key_struck_again_is_a_new_note() -> None:
    first, second = heard(
        [
            (0.0, (CONTROL, 64, 127)),
            (1.0, (ON, 60, 100)),
            (1.5, (OFF, 60, 0)),
            (2.0, (ON, 60, 100)),
            (3.0, (CONTROL, 64, 0)),
            (4.0, (OFF, 60, 0)),
        ],
        KEYBOARD,
    )
    assert (first.end_s, second.end_s) == (2.0, 4.0)


@pytest.mark.parametrize(("control", "end_s"), [(120, 2.0), (123, 2.0), (124, 2.0), (127, 2.0), (119, 5.0)])
def test_channel_mode_messages_end_notes(control: int, end_s: float) -> None:
    # MIDI 1.0, "Channel mode messages": 120 all sound off, 123 to 127 all notes off.
    (note,) = heard([(1.0, (ON, 60, 100)), (2.0, (CONTROL, control, 0))], end_s=5.0)
    assert note.end_s == end_s


def test_all_notes_off_respects_the_sustain_pedal_and_all_sound_off_does_not() -> None:
    held: list[Timed] = [
        (0.0, (CONTROL, 64, 127)),
        (1.0, (ON, 60, 100)),
        (2.0, (CONTROL, 123, 0)),
        (3.0, (CONTROL, 64, 0)),
    ]
    assert heard(held)[0].end_s == 3.0
    assert heard([*held[:3], (2.5, (CONTROL, 120, 0)), held[3]])[0].end_s == 2.5


def test_resetting_the_controllers_takes_the_bend_off() -> None:
    (note,) = heard([(0.0, (BEND, 0, 0)), (1.0, (ON, 60, 100)), (2.0, (CONTROL, 121, 0)), (3.0, (OFF, 60, 0))])
    assert (pitch(note, 1.5), pitch(note, 2.5)) == (58.0, 60.0)


def test_what_never_sounds_is_no_note() -> None:
    assert heard([(1.0, (ON, 60, 100)), (1.0, (OFF, 60, 0)), (2.0, (OFF, 61, 0))]) == []


def slide(offs: float = 0.0, order: str = "off-bend-on") -> list[Timed]:
    """A slide of four semitones in 0.4 s by a source that changes its key where a bend range of two ends."""
    messages: list[Timed] = [(1.0, (ON, 60, 100))]
    messages += [(2.0 + 0.01 * i, bend_to(0.1 * i, 2.0)) for i in range(20)]
    change: dict[str, Timed] = {
        "off": (2.2 + offs, (OFF, 60, 0)),
        "bend": (2.2, BEND_CENTRE),
        "on": (2.2, (ON, 62, 90)),
    }
    messages += sorted((change[name] for name in order.split("-")), key=lambda timed: timed[0])
    messages += [(2.2 + 0.01 * i, bend_to(min(0.1 * i, 1.999), 2.0)) for i in range(1, 21)]
    return [*messages, (4.0, (OFF, 62, 0))]


@pytest.mark.parametrize("order", ["off-bend-on", "bend-off-on", "bend-on-off", "on-bend-off", "off-on-bend"])
@pytest.mark.parametrize("offs", [0.0, -0.5 * JOIN_GAP_S, 0.5 * JOIN_GAP_S])
def test_a_retriggering_source_gives_one_note_a_pick(offs: float, order: str) -> None:
    (note,) = heard(slide(offs, order), RETRIGGERING)
    assert (note.start_s, note.end_s) == (1.0, 4.0)
    times_s = np.array([1.5, 2.1, 2.15, 2.25, 2.3, 3.0])
    assert np.interp(times_s, note.times_s, note.midis) == pytest.approx([60.0, 61.0, 61.5, 62.5, 63.0, 64.0], abs=0.03)
    assert np.all(np.diff(note.times_s) > 0.0)


def test_another_source_gives_a_note_for_each_note_on() -> None:
    assert [note.start_s for note in heard(slide())] == [1.0, 2.2]


@pytest.mark.parametrize(
    "again",
    [
        [(2.0, (OFF, 60, 0)), (2.0, (ON, 60, 100))],  # the same key: only a pick can do that
        [(2.0, (OFF, 60, 0)), (2.0 + 2 * JOIN_GAP_S, (ON, 61, 100))],  # after a gap
        [(2.0, (OFF, 60, 0)), (2.0, (ON, 63, 100))],  # at another pitch
    ],
)
def test_a_retriggering_source_has_picks_too(again: list[Timed]) -> None:
    bent: list[Timed] = [(1.0, (ON, 60, 100)), *[(1.5 + 0.01 * i, bend_to(0.1 * i, 2.0)) for i in range(11)]]
    assert len(heard([*bent, *again], RETRIGGERING)) == 2


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.0, 0.2), st.sampled_from([ON, OFF, CONTROL, BEND]), *[st.integers(0, 127)] * 2),
        max_size=60,
    ),
    st.sampled_from([STRINGS, KEYBOARD, RETRIGGERING]),
)
def test_any_messages_give_notes_with_rising_times(
    events: list[tuple[float, int, int, int]], midi_input: MidiInput
) -> None:
    now_s, messages = 0.0, []
    for gap_s, *data in events:
        now_s += gap_s
        messages.append((now_s, data))
    notes = heard(messages, midi_input, end_s=now_s)
    assert [note.start_s for note in notes] == sorted(note.start_s for note in notes)
    for note in notes:
        assert note.times_s[0] == note.start_s < note.end_s
        assert note.times_s[-1] <= note.end_s
        assert np.all(np.diff(note.times_s) > 0.0)
        assert np.all(np.isfinite(note.midis))
