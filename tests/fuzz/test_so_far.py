"""Made-up lessons, played with mistakes, whose figures are asked about all the time: the report at the end owes nothing
to it."""

from __future__ import annotations

import io
from random import Random

import mido
import pytest

from livecheck.engine import Brief, MidiEngine
from livecheck.errors import Unusable
from livecheck.hearing.midi.input import MidiInput
from livecheck.reports.document import document_of, text_of
from livecheck.sources.library import load_tolerances
from tests.fuzz import invented
from tests.fuzz.played import midi_file

SEEDS = (45622, 1, 5, 12, 17, 23, 40, 45)
"""Of short takes; in the first one a figure begins with a rest, in which nothing is asked for yet."""
TURN_S = 0.05


@pytest.mark.parametrize("seed", SEEDS)
def test_asking_all_the_time_changes_nothing(seed: int) -> None:
    to_click = seed % 3 == 0
    lesson = invented.lesson(Random(seed))
    file = mido.MidiFile(file=io.BytesIO(midi_file(lesson, Random(seed))))
    brief = Brief(lesson, lesson.figures, load_tolerances("standard"), "click" if to_click else "free")
    channels = MidiInput({string: string for string in range(1, min(16, len(lesson.copedent.strings)) + 1)})
    reports = []
    for ask in (False, True):
        engine, now_s, asked_s = MidiEngine(brief, channels), 0.0, 0.0
        for message in file:
            now_s += message.time
            while ask and asked_s < now_s:
                asked_s += TURN_S
                engine.ended(asked_s)
            engine.feed(now_s, message)
        try:
            reports.append(text_of([document_of(engine.finish("take"))]))
        except Unusable as error:
            reports.append(str(error))
    assert reports[0] == reports[1]
