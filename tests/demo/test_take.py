"""The bundled take is what its command makes, and what was planted is in it, as librosa and NumPy hear it."""

from __future__ import annotations

import io
import json
from functools import cache
from typing import Any

import librosa
import numpy as np
import pytest
import soundfile

from livecheck.demo.planted import path_of
from livecheck.lesson.pitch import hz_of
from livecheck.sources.library import load_lesson
from tests.bench import demo, ogg
from tests.bench.performance import Performance

RATE_HZ = 48_000
FRAME = 8192
LESSON = load_lesson(str(path_of("lesson.toml")))
CLEARLY_DB = 12.0


@cache
def take() -> Any:
    sound, rate_hz = soundfile.read(path_of("take.ogg"), dtype="float32")
    assert (rate_hz, sound.ndim) == (RATE_HZ, 1)
    return sound


@cache
def played() -> tuple[Performance, ...]:
    return demo.performances(LESSON)


def test_the_performance_has_what_was_planted() -> None:
    assert demo.planted(LESSON, played()) == json.loads(path_of("planted.json").read_text(encoding="utf-8"))


def test_the_take_is_what_the_command_makes() -> None:
    """Compared as spectra over time: another version of an encoder or a synthesiser may change samples."""
    made, bundled = (librosa.feature.melspectrogram(y=y, sr=RATE_HZ, hop_length=2400) for y in (made_anew(), take()))
    frames = min(made.shape[1], bundled.shape[1])
    assert abs(made.shape[1] - bundled.shape[1]) <= 1
    loud = [librosa.power_to_db(power[:, :frames], top_db=60.0).ravel() for power in (made, bundled)]
    assert np.corrcoef(loud)[0, 1] > 0.99


@cache
def made_anew() -> Any:
    return demo.sound(played())


def test_the_command_makes_the_same_bytes_each_time() -> None:
    piece = made_anew()[: 5 * RATE_HZ]
    assert demo.compressed(piece) == demo.compressed(piece.copy())


def test_pages_keep_the_checksums_that_libogg_gave_them() -> None:
    """What libogg wrote is the same after its own serial number has been put in: so are the checksums (RFC 3533)."""
    written = io.BytesIO()
    soundfile.write(written, take()[:RATE_HZ], RATE_HZ, format="OGG", subtype="VORBIS")
    data = written.getvalue()
    serial = int.from_bytes(data[ogg.SERIAL], "little")
    assert ogg.with_serial(data, serial) == data
    assert ogg.with_serial(data, serial ^ 1) != data
    assert int.from_bytes(path_of("take.ogg").read_bytes()[ogg.SERIAL], "little") == demo.SEED


def attempt(name: str, number: int = 1) -> Performance:
    return [performance for performance in played() if performance.expectation.figure.name == name][number - 1]


def level_db(time_s: float, midi: float) -> float:
    """How loud a pitch is around a time, by the stronger of its first two partials."""
    middle, turns = round(time_s * RATE_HZ), np.arange(FRAME) / RATE_HZ
    piece = take()[middle - FRAME // 2 : middle + FRAME // 2] * np.hanning(FRAME)
    partials = [abs(np.sum(piece * np.exp(-2j * np.pi * hz_of(midi) * k * turns))) for k in (1, 2)]
    return float(20.0 * np.log10(np.max(partials) / FRAME + 1e-9))


def heard_midi(time_s: float, near: float) -> float:
    """The strongest partial within one and a half semitones, by the interpolated peaks of librosa."""
    middle = round(time_s * RATE_HZ)
    piece = take()[middle - FRAME : middle + FRAME]
    hz, magnitudes = librosa.piptrack(y=piece, sr=RATE_HZ, n_fft=2 * FRAME, center=False)
    inside = np.abs(12.0 * np.log2(np.maximum(hz, 1.0) / hz_of(near))) < 1.5
    return float(librosa.hz_to_midi(hz[inside][np.argmax(magnitudes[inside])]))


def test_late_the_slide_is_not_there_on_its_beat() -> None:
    for name, beat, e4 in (("rise", 4.0, True), ("home", 4.0, False)):
        asked_s = attempt(name).time_of(beat)
        midi = 64.0 if e4 else 66.0
        rise_db = level_db(asked_s + 0.4, midi) - level_db(asked_s + 0.05, midi)
        assert (rise_db > CLEARLY_DB) is e4


def test_cut_short_string_8_stops_and_string_6_goes_on() -> None:
    rise = attempt("rise")
    early_s, later_s = rise.time_of(8.0), rise.time_of(8.5)
    assert level_db(early_s, 60.0) - level_db(later_s, 60.0) > CLEARLY_DB
    assert abs(level_db(early_s, 64.0) - level_db(later_s, 64.0)) < 6.0


def test_flat_both_strings_lie_under_their_pitch_at_one_step_only() -> None:
    fall = attempt("fall")
    for beat, midis, off in ((2.0, (71.0, 67.0), 0.0), (4.7, (67.0, 64.0), -28.0), (8.0, (62.0, 59.0), 0.0)):
        for midi in midis:
            assert 100.0 * (heard_midi(fall.time_of(beat), midi) - midi) == pytest.approx(off, abs=10.0)


def test_missed_string_7_sounds_the_second_time_only() -> None:
    first, second = (level_db(attempt("grips", number).time_of(2.0), 57.0) for number in (1, 2))
    assert second - first > CLEARLY_DB


def test_missed_move_string_6_goes_up_the_first_time_only() -> None:
    for number, went in ((1, True), (2, False)):
        at_s = attempt("grips", number).time_of(10.0)
        assert (level_db(at_s, 60.0) > level_db(at_s, 59.0) + CLEARLY_DB) is went
        assert (level_db(at_s, 60.0) < level_db(at_s, 59.0) - CLEARLY_DB) is not went


def test_rang_on_string_8_sounds_under_the_next_note() -> None:
    line = attempt("line")
    alone_db, under_db, after_db = (level_db(line.time_of(beat), 55.0) for beat in (1.6, 2.6, 3.7))
    assert alone_db - under_db < 12.0
    assert under_db - after_db > CLEARLY_DB


def test_wrong_note_string_3_sounds_instead_of_4() -> None:
    at_s = attempt("line").time_of(6.5)
    assert level_db(at_s, 71.0) - level_db(at_s, 67.0) > CLEARLY_DB


def test_extra_pick_one_more_onset() -> None:
    home = attempt("home")
    first, last = (round(home.time_of(beat) * RATE_HZ) for beat in (4.5, 10.5))
    found_s = librosa.onset.onset_detect(y=take()[first:last], sr=RATE_HZ, units="time", delta=0.3) + first / RATE_HZ
    (wanted,) = json.loads(path_of("planted.json").read_text(encoding="utf-8"))["figures"][-1]["extras"]
    assert found_s == pytest.approx([wanted["at_s"]], abs=0.03)
