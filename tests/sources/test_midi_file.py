"""MIDI takes against the Standard MIDI Files 1.0 specification (RP-001) and against mido's own playback times."""

from __future__ import annotations

import struct
from pathlib import Path

import mido
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from livecheck.errors import Unusable
from livecheck.sources.midi_file import LONGEST_S, read_midi
from livecheck.sources.take_file import is_midi

# The specification's worked example of type 0: 96 ticks a quarter note, 120 of these a minute, running status.
WORKED_EXAMPLE = bytes.fromhex(
    "4d546864 00000006 0000 0001 0060"
    "4d54726b 0000003b"
    "00ff5804 04021808 00ff5103 07a120 00c005 00c12e 00c246"
    "00923060 003c60 60914340 60904c20 8140823040 003c40 00814340 00804c40 00ff2f00"
)
WANTED = "wanted a Standard MIDI File of type 0 or 1"


def smf(*events: bytes, division: int = 480, kind: int = 0) -> bytes:
    """A file of one track, from its events with their delta times."""
    track = b"".join(events) + b"\x00\xff\x2f\x00"
    return b"MThd" + struct.pack(">LHHH", 6, kind, 1, division) + b"MTrk" + struct.pack(">L", len(track)) + track


NOTE = b"\x00\x90\x3c\x60\x60\x80\x3c\x40"


def write(folder: Path, data: bytes) -> str:
    path = folder / "take.mid"
    path.write_bytes(data)
    return str(path)


def test_the_specifications_example(tmp_path: Path) -> None:
    messages = read_midi(write(tmp_path, WORKED_EXAMPLE)).messages
    notes = [(time_s, m.type, m.channel + 1, m.note) for time_s, m in messages if m.type.startswith("note")]
    assert notes == [
        (0.0, "note_on", 3, 0x30),
        (0.0, "note_on", 3, 0x3C),
        (0.5, "note_on", 2, 0x43),
        (1.0, "note_on", 1, 0x4C),
        (2.0, "note_off", 3, 0x30),
        (2.0, "note_off", 3, 0x3C),
        (2.0, "note_off", 2, 0x43),
        (2.0, "note_off", 1, 0x4C),
    ]


def test_the_tempo_map_counts_for_all_tracks(tmp_path: Path) -> None:
    file = mido.MidiFile(type=1, ticks_per_beat=100)
    tempos, notes = mido.MidiTrack(), mido.MidiTrack()
    file.tracks += [tempos, notes]
    for tempo, ticks in ((500_000, 0), (1_000_000, 150), (250_000, 100)):
        tempos.append(mido.MetaMessage("set_tempo", tempo=tempo, time=ticks))
    for key in range(60, 70):
        notes.append(mido.Message("note_on", note=key, time=37))
        notes.append(mido.Message("note_off", note=key, time=21))
    path = str(tmp_path / "take.mid")
    file.save(path)
    played, now_s = [], 0.0
    for message in mido.MidiFile(path):
        now_s += message.time
        played.append((now_s, message.type))
    take = read_midi(path)
    timed = [(time_s, message.type) for time_s, message in take.messages if message.type != "end_of_track"]
    assert [kind for _, kind in timed] == [kind for _, kind in played[:-1]]
    assert [time_s for time_s, _ in timed] == pytest.approx([time_s for time_s, _ in played[:-1]])
    assert take.duration_s == pytest.approx(now_s)


@pytest.mark.parametrize(
    ("division", "tick_s"),
    [
        (0xE728, 0.001),  # the specification's own: 25 frames of 40 ticks give milliseconds
        (0xE850, 1 / (24 * 80)),
        (0xE350, 1001 / (30_000 * 80)),  # 30 drop frame, which runs at 29.97 frames
        (0xE204, 1 / (30 * 4)),
    ],
)
def test_smpte_division_knows_no_tempo(tmp_path: Path, division: int, tick_s: float) -> None:
    tempo = b"\x00\xff\x51\x03\x0f\x42\x40"
    messages = read_midi(write(tmp_path, smf(tempo, NOTE, division=division))).messages
    assert messages[-1][0] == pytest.approx(0x60 * tick_s)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (smf(NOTE, kind=2), f"is a MIDI file of type 2, whose tracks share no time; {WANTED}"),
        (smf(NOTE, kind=7), f"is damaged .there is no type 7.; {WANTED}"),
        (smf(NOTE, kind=0x8000), f"is damaged .there is no type 32768.; {WANTED}"),
        (smf(NOTE, division=0), f"is damaged .no ticks a beat.; {WANTED}"),
        (smf(NOTE, division=0xE700), f"is damaged .no ticks a frame.; {WANTED}"),
        (smf(), "has no note in it"),
        (smf(b"\x00\x90\x3c\x00"), "has no note in it"),
        (smf(NOTE)[:-6], f"ends in the middle; {WANTED}, whole"),
        (smf(NOTE)[:18], "ends in the middle"),
        (b"MThd", "ends in the middle"),
        (smf(b"\x00\x3c\x60"), f"is damaged .*; {WANTED}"),  # running status with none before it
        (smf(b"\x00\x90\x3c\xf4"), "is damaged"),
        (smf(NOTE).replace(b"MTrk", b"MTrx"), "is damaged"),
        (smf(b"\x00\xff\x51\x00", NOTE), "is damaged"),  # a tempo without a value
        (smf(b"\x00\xff\x59\x02\xfd\xd0", NOTE), "is damaged"),  # a key signature neither major nor minor
        (
            smf(NOTE, b"\xff\xff\xff\x7f\x90\x3c\x60", division=1),
            "nothing comes for .* hours after 48.0 s; wanted a take whose pauses are 30 min at most",
        ),
        (smf(NOTE, b"\x9c\x0e\x80\x3c\x40" * 7, division=1), "lasts 3.51 hours; wanted 3 hours at most"),
    ],
)
def test_what_is_no_take_says_why(tmp_path: Path, data: bytes, said: str) -> None:
    with pytest.raises(Unusable, match=rf"take\.mid: .*{said}") as caught:
        read_midi(write(tmp_path, data))
    assert "\n" not in str(caught.value)


def test_a_pause_may_be_half_an_hour(tmp_path: Path) -> None:
    rest = b"\x9c\x10\x80\x3c\x40"  # 3600 ticks of half a second
    assert read_midi(write(tmp_path, smf(NOTE, rest, division=1))).duration_s == 48.0 + 1800.0


def test_a_file_is_midi_by_its_content(tmp_path: Path) -> None:
    (tmp_path / "take.wav").write_bytes(smf(NOTE))
    (tmp_path / "other.mid").write_bytes(b"RIFF")
    (tmp_path / "empty.mid").touch()
    assert is_midi(str(tmp_path / "take.wav"))
    assert not is_midi(str(tmp_path / "other.mid"))
    assert not is_midi(str(tmp_path / "empty.mid"))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.one_of(
        st.binary(max_size=200).map(lambda data: b"MThd" + data),
        st.lists(st.binary(min_size=1, max_size=8), max_size=12).map(lambda events: smf(NOTE, *events)),
        st.tuples(st.integers(0, len(WORKED_EXAMPLE) - 1), st.binary(max_size=4)).map(
            lambda change: WORKED_EXAMPLE[: change[0]] + change[1] + WORKED_EXAMPLE[change[0] + len(change[1]) :]
        ),
    )
)
def test_any_bytes_are_a_take_or_unusable(tmp_path: Path, data: bytes) -> None:
    try:
        take = read_midi(write(tmp_path, data))
    except Unusable as error:
        said = str(error)
    else:
        said = ""
        times_s = [time_s for time_s, _ in take.messages]
        assert times_s == sorted(times_s)
        assert 0.0 <= take.duration_s <= LONGEST_S
    assert "\n" not in said
