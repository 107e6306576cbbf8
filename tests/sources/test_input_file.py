"""Input files: how a MIDI instrument speaks."""

from __future__ import annotations

import pytest

from livecheck.errors import Unusable
from livecheck.hearing.midi.input import MidiInput
from livecheck.sources.input_file import read_input
from livecheck.sources.library import load_input


def test_channels_are_found_by_number_and_give_the_string() -> None:
    text = 'format = 1\nname = "ours"\nbend_semitones = 12\nretrigger = true\n[channels]\n1 = 4\n2 = 3\n'
    assert read_input(text, "own.toml") == MidiInput({4: 1, 3: 2}, 12.0, True)


def test_what_is_left_out() -> None:
    assert read_input("format = 1", "own.toml") == MidiInput({}, 2.0, False)


def test_the_inputs_that_come_along() -> None:
    each = {number: number for number in range(1, 17)}
    assert load_input("channel-per-string") == MidiInput(each)
    assert load_input("pitch-to-midi-pickup") == MidiInput(each, retrigger=True)
    assert load_input("keyboard") == MidiInput({})


def test_a_smaller_instrument_has_fewer_strings() -> None:
    assert load_input("channel-per-string").for_strings(3).channels == {1: 1, 2: 2, 3: 3}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("format = 1\nchannels = { 1 = 0 }", "string 1 is on channel 0; wanted 1 to 16"),
        ("format = 1\nchannels = { 1 = 17 }", "string 1 is on channel 17; wanted 1 to 16"),
        ("format = 1\nchannels = { 0 = 1 }", "channels names string 0; strings count from 1"),
        ("format = 1\nchannels = { 1 = 2, 2 = 2 }", "strings 1 and 2 are both on channel 2; wanted a channel for each"),
        ("format = 1\nbend_semitones = 0", "bend_semitones is 0; wanted above zero, at most 127"),
        ("format = 1\nbend_semitones = nan", "bend_semitones is nan; wanted above zero"),
        ("format = 1\nretriger = true", "retriger"),
        ("format = 1\nchannels = { E = 2 }", "channels"),
        ("retrigger = true", "format"),
        ("= 1", "not TOML"),
    ],
)
def test_a_mistake_says_where_and_what(text: str, said: str) -> None:
    with pytest.raises(Unusable, match=rf"^own\.toml: .*{said}"):
        read_input(text, "own.toml")
