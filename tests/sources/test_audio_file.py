"""Audio takes: formats, channels, and everything that can be wrong with a file."""

from __future__ import annotations

import os
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from livecheck.errors import Unusable
from livecheck.sources import audio_file
from livecheck.sources.audio_file import open_audio

RATE_HZ = 44_100
Samples = NDArray[np.float32]


def tone(seconds: float = 0.5, hz: float = 220.0, level: float = 0.3, rate_hz: int = RATE_HZ) -> Samples:
    times_s = np.arange(round(seconds * rate_hz)) / rate_hz
    return (level * np.sin(2.0 * np.pi * hz * times_s)).astype(np.float32)


def write(folder: Path, samples: Samples, name: str = "take.wav", rate_hz: int = RATE_HZ, **how: Any) -> str:
    path = str(folder / name)
    soundfile.write(path, samples, rate_hz, **how)
    return path


def heard(path: str, channel: int | None = None) -> Samples:
    return np.concatenate(list(open_audio(path, channel).blocks))


@pytest.mark.parametrize(
    ("name", "how", "exact"),
    [
        ("take.wav", {"subtype": "PCM_16"}, 1e-4),
        ("take.wav", {"subtype": "PCM_24"}, 1e-6),
        ("take.wav", {"subtype": "FLOAT"}, 0.0),
        ("take.wav", {"subtype": "PCM_U8"}, 2e-2),
        ("take.flac", {}, 1e-4),
        ("take.aiff", {}, 1e-4),
        ("take.ogg", {}, 0.05),
        ("take.mp3", {}, 0.05),
        # By its content, whatever it is called.
        ("take.txt", {"format": "FLAC"}, 1e-4),
        ("take.raw", {"format": "WAV"}, 1e-4),
        ("take.mid", {"format": "MP3"}, 0.05),
        ("take", {"format": "OGG"}, 0.05),
    ],
)
def test_every_format_gives_its_samples(tmp_path: Path, name: str, how: dict[str, Any], exact: float) -> None:
    samples = tone()
    path = write(tmp_path, samples, name, **how)
    take = open_audio(path)
    assert (take.rate_hz, take.duration_s, take.notes) == (RATE_HZ, len(samples) / RATE_HZ, ())
    blocks = list(take.blocks)
    assert all(block.dtype == np.float32 and block.ndim == 1 for block in blocks)
    inside = slice(2000, -2000)  # lossy formats need a moment at the ends
    assert np.concatenate(blocks)[inside] == pytest.approx(samples[inside], abs=exact)


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 48_000, 96_000, 192_000])
def test_rates_from_8_to_192_khz(tmp_path: Path, rate_hz: int) -> None:
    path = write(tmp_path, tone(rate_hz=rate_hz), rate_hz=rate_hz)
    assert open_audio(path).rate_hz == rate_hz
    assert len(heard(path)) == rate_hz // 2


@pytest.mark.parametrize("rate_hz", [7_999, 192_001])
def test_other_rates_are_refused(tmp_path: Path, rate_hz: int) -> None:
    path = write(tmp_path, tone(rate_hz=rate_hz), rate_hz=rate_hz)
    with pytest.raises(Unusable, match=rf"take\.wav: is sampled at {rate_hz} Hz; wanted 8000 to 192000 Hz"):
        open_audio(path)


STEEL, BAND = tone(), tone(hz=317.0)
NOTHING = np.zeros_like(STEEL)


@pytest.mark.parametrize(
    ("channels", "expected"),
    [
        ([STEEL, STEEL], STEEL),
        ([STEEL, BAND], (STEEL + BAND) / 2),  # a stereo recording is mixed
        ([STEEL, 0.8 * BAND], (STEEL + 0.8 * BAND) / 2),
        ([NOTHING, STEEL], STEEL),  # a dead channel
        ([NOTHING, NOTHING, STEEL, NOTHING], STEEL),
        ([0.9 * STEEL, -STEEL], -STEEL),  # opposite polarity
        ([STEEL, NOTHING + 0.5], STEEL),  # nothing but an offset
    ],
)
def test_channels_are_mixed_where_that_does_no_harm(tmp_path: Path, channels: list[Samples], expected: Samples) -> None:
    path = write(tmp_path, np.stack(channels, axis=1), subtype="FLOAT")
    assert heard(path) == pytest.approx(expected, abs=1e-6)


def test_a_channel_can_be_named(tmp_path: Path) -> None:
    path = write(tmp_path, np.stack([STEEL, BAND], axis=1), subtype="FLOAT")
    assert np.array_equal(heard(path, 1), STEEL)
    assert np.array_equal(heard(path, 2), BAND)
    with pytest.raises(Unusable, match=r"take\.wav: has 2 channels; wanted channel 3"):
        open_audio(path, 3)


def test_a_silent_channel_says_which_sound(tmp_path: Path) -> None:
    path = write(tmp_path, np.stack([NOTHING, STEEL, NOTHING, BAND], axis=1))
    with pytest.raises(Unusable, match="channel 1 is silent; wanted one that sounds: 2, 4"):
        open_audio(path, 1)


def test_many_channels(tmp_path: Path) -> None:
    channels = np.zeros((len(STEEL), 40), dtype=np.float32)
    channels[:, 30] = STEEL
    assert heard(write(tmp_path, channels, subtype="FLOAT")) == pytest.approx(STEEL, abs=1e-6)


def test_samples_beyond_full_scale_are_brought_down(tmp_path: Path) -> None:
    path = write(tmp_path, STEEL * np.float32(1e30), subtype="FLOAT")
    assert heard(path) == pytest.approx(STEEL / np.abs(STEEL).max(), abs=1e-5)


@pytest.mark.parametrize("size", [1e30, -2e4])
def test_one_sample_beyond_everything_is_damage(tmp_path: Path, size: float) -> None:
    samples = np.stack([STEEL, STEEL], axis=1)
    samples[11_025, 1] = size
    path = write(tmp_path, samples, subtype="FLOAT")
    said = rf"take\.wav: sample 11026 of channel 2 .0\.250 s. is {abs(size):.3g} times full scale".replace("+", r"\+")
    with pytest.raises(Unusable, match=said):
        open_audio(path)
    assert np.array_equal(heard(path, 1), STEEL)


def test_a_few_loud_samples_are_none(tmp_path: Path) -> None:
    samples = STEEL.copy()
    samples[11_025] = 100.0
    assert heard(write(tmp_path, samples, subtype="FLOAT")) == pytest.approx(samples / 100.0)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_samples_that_are_not_numbers_say_where(tmp_path: Path, bad: float) -> None:
    samples = np.stack([STEEL, STEEL], axis=1)
    samples[11_025, 1] = bad
    path = write(tmp_path, samples, subtype="FLOAT")
    what = "not a number" if np.isnan(bad) else "infinite"
    with pytest.raises(Unusable, match=rf"take\.wav: sample 11026 of channel 2 .0\.250 s. is {what}; wanted finite"):
        open_audio(path)
    assert len(heard(path, 1)) == len(STEEL)


@pytest.mark.parametrize(
    ("samples", "said"),
    [
        (NOTHING, "is silent, nothing was heard; wanted a take"),
        (NOTHING + 0.25, "is silent"),
        (tone(level=0.5e-4), "is silent"),
        (tone(0.24), "lasts 0.240 s; wanted 0.25 s at least"),
        (tone(0.0), "has no sound in it that can be read"),
    ],
)
def test_too_little_to_hear(tmp_path: Path, samples: Samples, said: str) -> None:
    with pytest.raises(Unusable, match=rf"take\.wav: {said}"):
        open_audio(write(tmp_path, samples, subtype="FLOAT"))


def test_a_quiet_take_is_heard(tmp_path: Path) -> None:
    assert len(heard(write(tmp_path, tone(level=1e-3)))) == len(STEEL)


def test_a_take_has_a_longest_duration(tmp_path: Path) -> None:
    with pytest.raises(Unusable, match=r"is longer than 0.006 minutes; wanted a take within that"):
        open_audio(write(tmp_path, STEEL), longest_s=0.36)


def test_a_header_that_does_not_tell_the_length_lets_nothing_through(tmp_path: Path) -> None:
    """The total samples of a FLAC file are 36 bits of its STREAMINFO block (RFC 9639, 8.2); 0 means unknown."""
    path = Path(write(tmp_path, tone(2.0), "take.flac"))
    data = bytearray(path.read_bytes())
    data[21] &= 0xF0
    data[22:26] = bytes(4)
    path.write_bytes(data)
    with pytest.raises(Unusable, match=r"is longer than 0\.01 minutes"):
        open_audio(str(path), longest_s=0.6)


@pytest.mark.parametrize("told", [True, False])
def test_a_small_file_that_unpacks_to_no_end_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, told: bool
) -> None:
    """Silence in eight channels: 60 s in 20 kB."""
    monkeypatch.setattr(audio_file, "MOST_SAMPLES", 1_000_000)
    path = tmp_path / "take.flac"
    soundfile.write(path, np.zeros((60 * 8_000, 8), dtype=np.float32), 8_000)
    assert path.stat().st_size < 30_000
    if not told:
        data = bytearray(path.read_bytes())
        data[21] &= 0xF0
        data[22:26] = bytes(4)
        path.write_bytes(data)
    with pytest.raises(Unusable, match=r"unpacks to more than 1 million samples in 8 channels; wanted a take"):
        open_audio(str(path))


def test_three_hours_of_silence_are_not_kept_in_memory(tmp_path: Path) -> None:
    path = str(tmp_path / "take.flac")
    with soundfile.SoundFile(path, "w", 8_000, 1) as file:
        for _ in range(181):
            file.write(np.zeros(60 * 8_000, dtype=np.float32))
    with pytest.raises(Unusable, match="is longer than 3 hours"):
        open_audio(path)


@pytest.mark.parametrize("name", ["take.wav", "take.aiff", "take.flac", "take.mp3"])
def test_a_file_that_is_cut_short_is_heard_to_its_end_and_says_so(tmp_path: Path, name: str) -> None:
    path = write(tmp_path, tone(4.0), name)
    whole = Path(path).read_bytes()
    Path(path).write_bytes(whole[: len(whole) // 2])
    take = open_audio(path)
    assert 1.4 < take.duration_s < 2.4
    assert sum(len(block) for block in take.blocks) == round(take.duration_s * RATE_HZ)
    (note,) = take.notes
    assert note == f"the file breaks off: it promises 4.00 s, only {take.duration_s:.2f} s can be read"


def test_only_the_sound_of_a_cut_file_has_to_be_there(tmp_path: Path) -> None:
    path = write(tmp_path, tone(4.0))
    whole = Path(path).read_bytes()
    Path(path).write_bytes(whole[:60])
    with pytest.raises(Unusable, match=r"lasts 0\.000 s; wanted 0.25 s at least"):
        open_audio(path)


@pytest.mark.parametrize("length", [0xFFFFFFFF, 0x7FFFFFFF])
def test_a_length_that_a_recorder_could_not_fill_in_is_no_promise(tmp_path: Path, length: int) -> None:
    path = write(tmp_path, STEEL)
    data = bytearray(Path(path).read_bytes())
    at = data.index(b"data") + 4
    data[4:8] = data[at : at + 4] = struct.pack("<L", length)
    Path(path).write_bytes(data)
    take = open_audio(path)
    assert (take.duration_s, take.notes) == (len(STEEL) / RATE_HZ, ())


def test_an_mp3_that_does_not_tell_its_length_says_so(tmp_path: Path) -> None:
    noise = np.random.default_rng(5).uniform(-0.5, 0.5, RATE_HZ * 2).astype(np.float32)
    samples = np.concatenate((noise, np.zeros(RATE_HZ * 8, dtype=np.float32)))
    path = str(tmp_path / "take.mp3")
    with soundfile.SoundFile(
        path, "w", RATE_HZ, 1, format="MP3", bitrate_mode="VARIABLE", compression_level=0.5
    ) as file:
        file.write(samples)
    data = Path(path).read_bytes()
    assert open_audio(path).notes == ()
    # The first frame holds nothing but the length, in the de-facto "Xing" header; the next begins with a sync word too.
    following = data.index(b"\xff\xfb", 4)
    assert b"Xing" in data[:following]
    Path(path).write_bytes(data[following:])
    take = open_audio(path)
    (note,) = take.notes
    there = f"only its first {take.duration_s:.2f} s can be read"
    assert note == f"{there}: it does not tell its length; save it as WAV or FLAC"


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is empty"),
        (b"these are words, not sound\n" * 100, "is not audio that can be read, or is damaged"),
        (b"RIFF\x24\x00\x00\x00WAVE", "is not audio that can be read"),
        (b"ID3\x03\x00\x00\x00\x00\x00\x00" + bytes(500), "is not audio that can be read"),
        (b"fLaC" + bytes(500), "is not audio that can be read"),
        (b"OggS" + bytes(500), "is not audio that can be read"),
        (b"\x00\x00\x00\x18ftypM4A " + bytes(500), "is not audio that can be read"),
    ],
)
def test_what_is_no_audio_says_so(tmp_path: Path, data: bytes, said: str) -> None:
    path = tmp_path / "take.wav"
    path.write_bytes(data)
    with pytest.raises(Unusable, match=rf"take\.wav: {said}.*; wanted audio .WAV, FLAC, OGG, MP3 or AIFF."):
        open_audio(str(path))


def test_folders_and_pipes_are_no_takes(tmp_path: Path) -> None:
    with pytest.raises(Unusable, match="is a folder; wanted audio"):
        open_audio(str(tmp_path))
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(Unusable, match="is a pipe or a device, not a file; wanted audio"):
        open_audio(str(tmp_path / "pipe"))
    with pytest.raises(Unusable, match="is a pipe or a device"):
        open_audio("/dev/zero")
    with pytest.raises(Unusable, match="cannot be read: no such file or directory"):
        open_audio(str(tmp_path / "nowhere.wav"))


def test_the_mp3_decoder_does_not_write_to_the_terminal(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path, tone(4.0), "take.mp3")
    whole = Path(path).read_bytes()
    Path(path).write_bytes(whole[:3000] + bytes(range(256)) * 8 + whole[5048:-2000])
    heard(path)
    os.write(2, b"still there")
    assert capfd.readouterr().err == "still there"


def test_no_descriptor_stays_open(tmp_path: Path) -> None:
    path = write(tmp_path, STEEL)
    (tmp_path / "words.wav").write_text("words")
    before = len(os.listdir("/proc/self/fd"))
    for _ in range(5):
        heard(path)
        take = open_audio(path)
        next(iter(take.blocks))
        del take
        with pytest.raises(Unusable):
            open_audio(str(tmp_path / "words.wav"))
    assert len(os.listdir("/proc/self/fd")) == before


def _files() -> list[bytes]:
    whole = []
    for kind, subtype in (
        ("WAV", "PCM_16"),
        ("WAV", "FLOAT"),
        ("FLAC", "PCM_16"),
        ("OGG", "VORBIS"),
        ("MP3", None),
        ("AIFF", None),
    ):
        with open(os.memfd_create("take"), "w+b") as file:
            soundfile.write(file, tone(), RATE_HZ, format=kind, subtype=subtype)
            file.seek(0)
            whole.append(file.read())
    return whole


FILES = _files()


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    data=st.sampled_from(FILES),
    changes=st.lists(st.tuples(st.floats(0.0, 1.0), st.booleans(), st.binary(min_size=1, max_size=40)), max_size=4),
    kept=st.floats(0.01, 1.0),
)
def test_any_bytes_are_a_take_or_unusable(
    tmp_path: Path, data: bytes, changes: list[tuple[float, bool, bytes]], kept: float
) -> None:
    damaged = bytearray(data)
    for where, in_header, change in changes:
        at = int(where * (min(len(damaged), 120) if in_header else len(damaged)))
        damaged[at : at + len(change)] = change
    path = tmp_path / "take"
    path.write_bytes(damaged[: int(kept * len(damaged))])
    try:
        take = open_audio(str(path))
    except Unusable as error:
        said = str(error)
    else:
        said, blocks = "", list(take.blocks)
        assert sum(map(len, blocks)) == round(take.duration_s * take.rate_hz)
        assert all(np.isfinite(block).all() and np.abs(block).max() <= audio_file.LOUDEST_PEAK for block in blocks)
    assert "\n" not in said
