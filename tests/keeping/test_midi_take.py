"""A take as a Standard MIDI File: what was written comes back at the same times, at any moment."""

from __future__ import annotations

from pathlib import Path

import mido
import pytest

from livecheck.keeping.midi_take import MOST_DELTA, TICK_S, MidiTake, ticks_of
from livecheck.sources.midi_file import read_midi

ON = mido.Message("note_on", channel=3, note=64, velocity=70)
BEND = mido.Message("pitchwheel", channel=3, pitch=-1234)
OFF = mido.Message("note_off", channel=3, note=64)
TIMED = [(0, ON), (127, BEND), (128, BEND), (16_384 + 128, BEND), (2_097_152, BEND), (3_000_000, OFF)]


def written(path: Path, timed: list[tuple[int, mido.Message]]) -> MidiTake:
    path.touch()
    take = MidiTake(path)
    for tick, message in timed:
        take.write(tick, bytes(message.bytes()))
    return take


def test_messages_come_back_at_exactly_their_times(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    written(path, TIMED).close(3_100_000)
    *messages, (end_s, end) = read_midi(str(path)).messages
    assert messages[0][1].tempo == 500_000
    assert messages[1:] == [(tick * TICK_S, message.copy(time=message.time)) for tick, message in _as_read(TIMED)]
    assert (end_s, end.type) == (3_100_000 * TICK_S, "end_of_track")


def test_it_can_be_read_after_every_message_without_being_closed(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    path.touch()
    take = MidiTake(path)
    for number, (tick, message) in enumerate(TIMED, start=1):
        take.write(tick, bytes(message.bytes()))
        assert len(read_midi(str(path)).messages) == 1 + number


def test_another_reader_of_the_format_agrees(tmp_path: Path) -> None:
    """mido's own clock, by the file's tempo."""
    path = tmp_path / "take.mid"
    written(path, TIMED).close(3_000_000)
    file = mido.MidiFile(path)
    assert (file.type, len(file.tracks)) == (0, 1)
    assert file.length == pytest.approx(3_000_000 * TICK_S, abs=1e-9)
    assert [m.type for m in file.tracks[0]].count("end_of_track") == 1


@pytest.mark.parametrize(
    ("delta", "encoded"),
    [
        # The examples of the Standard MIDI Files 1.0 specification (RP-001), "variable-length quantity".
        (0x00, "00"),
        (0x40, "40"),
        (0x7F, "7F"),
        (0x80, "81 00"),
        (0x2000, "C0 00"),
        (0x3FFF, "FF 7F"),
        (0x4000, "81 80 00"),
        (0x100000, "C0 80 00"),
        (0x1FFFFF, "FF FF 7F"),
        (0x200000, "81 80 80 00"),
        (0x8000000, "C0 80 80 00"),
        (0xFFFFFFF, "FF FF FF 7F"),
    ],
)
def test_deltas_are_written_as_the_specification_has_them(tmp_path: Path, delta: int, encoded: str) -> None:
    path = tmp_path / "take.mid"
    written(path, [(delta, ON)])
    assert path.read_bytes().endswith(bytes.fromhex(encoded) + bytes(ON.bytes()))


def test_a_rest_longer_than_a_delta_can_say(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    ticks = 2 * MOST_DELTA + 5
    written(path, [(0, ON), (ticks, OFF)]).close(ticks)
    times_s = [event.time for event in mido.MidiFile(path).tracks[0]]
    assert sum(times_s) == ticks


@pytest.mark.parametrize("time_s", [0.0, 1e-5, 0.1, 1.0 / 3.0, 3599.99])
def test_the_nearest_tick_is_within_half_of_one(time_s: float) -> None:
    assert abs(ticks_of(time_s) * TICK_S - time_s) <= TICK_S / 2


def _as_read(timed: list[tuple[int, mido.Message]]) -> list[tuple[int, mido.Message]]:
    """mido gives each message the ticks since the one before."""
    before, messages = 0, []
    for tick, message in timed:
        messages.append((tick, message.copy(time=tick - before)))
        before = tick
    return messages
