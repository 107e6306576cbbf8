"""Following: which figure, and where in it, whatever the tempo, pauses and order."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.midi_glance import glances_of
from livecheck.judging.follow import Follower, Passage
from livecheck.lesson.expectation import Expectation, expect
from livecheck.lesson.figure import Lesson
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import load_copedent

LESSON = """
format = 1
tempo = 90
copedent = "e9-ten-string"

[[figure]]
name = "one"
length = 4
steps = [{ beat = 1, fret = 3, pick = [5, 6] }, { beat = 3, fret = 5, over = 0.5 }]

[[figure]]
name = "two"
length = 4
steps = [{ beat = 1, fret = 8, pick = [4, 5] }, { beat = 2, down = ["A"] }, { beat = 3, fret = 6, pick = [3, 4] }]

[[figure]]
name = "three"
length = 4
steps = [{ beat = 1, fret = 10, pick = [6, 8] }, { beat = 2.5, fret = 12, over = 0.5 }, { beat = 4, block = "all" }]
"""


def _lesson() -> Lesson:
    return read_lesson(LESSON, "lesson.toml", load_copedent)


def _played(expectation: Expectation, start_s: float, beat_s: float, off: float = 0.0) -> list[HeardNote]:
    notes = []
    for note in expectation.notes:
        begin, end = (start_s + (b - 1.0) * beat_s for b in (note.start_beat, note.end_beat))
        times = np.arange(begin, end, 0.01)
        midis = note.midi_at((times - start_s) / beat_s + 1.0) + off
        notes.append(HeardNote(note.string, begin, end, times, midis))
    return notes


def _followed(
    order: Sequence[int], factor: float, pause_s: float, off: float = 0.0
) -> tuple[list[Passage], list[float]]:
    lesson = _lesson()
    expectations = [expect(figure, lesson.copedent) for figure in lesson.figures]
    beat_s = lesson.beat_s / factor
    at_s, notes, starts = 1.2, [], []
    for index in order:
        starts.append(at_s)
        notes += _played(expectations[index], at_s, beat_s, off)
        at_s += float(lesson.figures[index].length) * beat_s + pause_s
    follower = Follower(expectations, lesson.beat_s)
    for glance in glances_of(notes):
        follower.feed(glance)
    return follower.passages(), starts


@pytest.mark.parametrize("factor", [0.6, 0.8, 1.0, 1.25, 1.5])
@pytest.mark.parametrize("pause_s", [0.0, 0.7, 4.0])
def test_all_figures_are_found_at_any_tempo_with_any_pause(factor: float, pause_s: float) -> None:
    passages, starts = _followed([0, 1, 2], factor, pause_s)
    assert [passage.figure for passage in passages] == [0, 1, 2]
    assert [passage.time_of(1.0) for passage in passages] == pytest.approx(starts, abs=0.05)


@pytest.mark.parametrize("order", [[0, 0, 1, 2], [0, 2], [1], [0, 1, 0, 1, 2]])
def test_figures_may_come_again_and_be_left_out(order: list[int]) -> None:
    passages, _ = _followed(order, 0.9, 0.4)
    assert [passage.figure for passage in passages] == order


def test_a_take_that_is_tuned_elsewhere_is_followed() -> None:
    passages, _ = _followed([0, 1, 2], 1.0, 0.5, off=0.35)
    assert [passage.figure for passage in passages] == [0, 1, 2]


def test_silence_holds_no_figure() -> None:
    lesson = _lesson()
    follower = Follower([expect(figure, lesson.copedent) for figure in lesson.figures], lesson.beat_s)
    assert follower.passages() == []
    for glance in glances_of([]):
        follower.feed(glance)
    assert follower.passages() == []
