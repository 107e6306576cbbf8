"""Files in `cases` that once went wrong, or that a reader of such files may well get wrong: what is said of each."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from livecheck.cli.main import main
from tests.fuzz import seeds

CASES = Path(__file__).with_name("cases")
NO_AUDIO = "is not audio that can be read, or is damaged; wanted audio (WAV, FLAC, OGG, MP3 or AIFF)"
NO_FIGURE = 'no figure of this lesson was found in it; wanted a take of "Two strings"'
SMF = "wanted a Standard MIDI File of type 0 or 1"
SAID = {
    # one delta time is the longest that there is, with a string ringing
    "pause-of-hours.mid": "nothing comes for 38.8 hours after 0.9 s; wanted a take whose pauses are 30 min at most",
    "no-such-type.mid": f"the MIDI file is damaged (there is no type 32768); {SMF}",
    "smpte-without-ticks.mid": f"the MIDI file is damaged (no ticks a frame); {SMF}",
    "key-of-no-mode.mid": f"the MIDI file is damaged (Could not decode key with 3 flats and mode 208); {SMF}",
    "no-tempo.mid": NO_FIGURE,  # no microseconds a beat: all at once
    "highest-bend.mid": NO_FIGURE,  # note 127, bent by 128 semitones
    "note-of-no-length.mid": NO_FIGURE,
    "no-channel.wav": NO_AUDIO,
    "many-channels.wav": "has no sound in it that can be read; wanted a take",  # 1000, and less than one sample of each
    "highest-rate.wav": NO_AUDIO,
    "odd-format.wav": NO_AUDIO,
    "no-frame.wav": "lasts 0.013 s; wanted 0.25 s at least",  # no bytes a frame, by its header
    "infinite-rate.aiff": "is sampled at 67108864 Hz; wanted 8000 to 192000 Hz",
    "negative-rate.aiff": NO_AUDIO,
    "slant-off-the-neck.toml": 'figure "1", step 3: the slanted bar lies at fret -7 on string 8, which rings; '
    "wanted 0 (open) to 48 there",
    "utf-16.toml": "is not UTF-8 text (byte 1); wanted a lesson file in UTF-8",
    # the name holds a line's end and what clears a terminal
    "name-of-three-lines.toml": 'figure "a b?[2J", step 3: pick names string 11; the copedent has strings 1 to 10',
}


def test_every_case_is_tried() -> None:
    assert {path.name for path in CASES.iterdir()} == SAID.keys()


@pytest.mark.parametrize("name", SAID)
def test_a_case_is_one_sentence(
    name: str, tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    os.symlink(CASES / name, tmp_path / name)
    monkeypatch.chdir(tmp_path)
    lesson = seeds.write_lesson(tmp_path)
    status = main(["show", name] if name.endswith(".toml") else ["grade", lesson, name, "--json"])
    assert (status, *capfd.readouterr()) == (2, "", f"livecheck: {name}: {SAID[name]}\n")
