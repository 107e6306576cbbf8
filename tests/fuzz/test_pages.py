"""Lessons made up by chance and played with every mistake become pages, JAMS and MIDI, whatever was heard."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path
from random import Random

import mido
import pytest

from livecheck.errors import Unusable
from livecheck.grading.take import Asked, play
from livecheck.hearing.midi.input import MidiInput
from livecheck.judging.brief import Brief
from livecheck.pages.beside import beside_page
from livecheck.pages.take import take_section, takes_page
from livecheck.reports.mistake import mistakes_of
from livecheck.reports.played import PlayedTake
from livecheck.sharing.bend_midi import midi_of
from livecheck.sharing.jams_file import jams_of
from livecheck.sources.library import load_tolerances
from tests.fuzz import invented
from tests.fuzz.played import midi_file, sound_file
from tests.pages.test_markup import read

LONGEST_S = 60.0
"""So that the tests are done soon."""
TOLERANCES = load_tolerances("standard")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("takes")


@pytest.mark.parametrize("seed", range(16, 32))
def test_midi_takes(folder: Path, seed: int) -> None:
    _check(folder, seed, with_sound=False)


@pytest.mark.parametrize("seed", range(17, 20))
def test_takes_of_sound(folder: Path, seed: int) -> None:
    _check(folder, seed, with_sound=True)


def _check(folder: Path, seed: int, *, with_sound: bool) -> None:
    rng = Random(seed)
    lesson = invented.lesson(rng)
    path = folder / "take"
    path.write_bytes(sound_file(lesson, rng) if with_sound else midi_file(lesson, rng))
    strings = range(1, len(lesson.copedent.strings) + 1)
    asked = Asked(
        Brief(lesson, lesson.figures, TOLERANCES),
        MidiInput({string: string for string in strings}),
        longest_s=LONGEST_S,
    )
    try:
        take = play(str(path), "take", asked)
    except Unusable:
        return
    _check_page(take)
    document = json.loads(jams_of(take, "take"))
    assert all(one["duration"] >= 0.0 for annotation in document["annotations"] for one in annotation["data"])
    file = mido.MidiFile(file=io.BytesIO(midi_of(take)))
    struck = sum(message.type == "note_on" for track in file.tracks for message in track)
    assert struck == sum(message.type == "note_off" for track in file.tracks for message in track)


def _check_page(take: PlayedTake) -> None:
    page = takes_page("takes", [take_section(take, "t1", "take")])
    parsed = read(page)
    ids = [attributes["id"] for _, attributes in parsed.tags if "id" in attributes]
    assert len(set(ids)) == len(ids)
    told = sum(len(mistakes_of(figure.verdict)) for figure in take.figures)
    assert page.count('class="badge-number"') >= told
    assert not re.search(r'="(?:nan|inf|-inf)', page)
    assert "NaN" not in re.sub(r'base64,[^"]*', "", page)
    assert "pair" in beside_page("takes", (take, take), ("one", "two"))
