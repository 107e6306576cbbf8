"""Following: which figure, and where in it, whatever the tempo, pauses and order."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.midi.glance import glances_of
from livecheck.hearing.sound.ear import Glance
from livecheck.judging.places.follow import Follower
from livecheck.judging.places.passage import Passage
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


def _followed_notes(notes: Sequence[HeardNote], frames: int = 256) -> list[Passage]:
    """Passages of some notes, their glances fed so many frames at once."""
    lesson = _lesson()
    follower = Follower([expect(figure, lesson.copedent) for figure in lesson.figures], lesson.beat_s)
    for glance in glances_of(notes):
        for at in range(0, len(glance.loud), frames):
            part = slice(at, at + frames)
            follower.feed(Glance(glance.contrast[part], glance.purity[part], glance.onset[part], glance.loud[part]))
    return follower.passages()


def _take(lesson: Lesson, off: Sequence[float] = (0.0, 0.0, 0.0)) -> list[HeardNote]:
    """All figures in order, each so many semitones off, with a beat between them."""
    notes, at_s = [], 1.0
    for figure, by in zip(lesson.figures, off, strict=True):
        notes += _played(expect(figure, lesson.copedent), at_s, lesson.beat_s, by)
        at_s += (float(figure.length) + 1.0) * lesson.beat_s
    return notes


@pytest.mark.parametrize("frets", [-2.0, -1.0, 1.0, 2.0])
def test_a_figure_with_the_bar_elsewhere_is_still_that_figure(frets: float) -> None:
    passages = _followed_notes(_take(_lesson(), (0.0, frets, 0.0)))
    assert [passage.figure for passage in passages] == [0, 1, 2]
    assert passages[1].support < passages[0].support


def test_a_figure_that_lacks_a_string_is_still_that_figure() -> None:
    lesson = _lesson()
    notes = [note for note in _take(lesson) if note.string != 5]
    assert [passage.figure for passage in _followed_notes(notes)] == [0, 1, 2]


def test_other_music_is_no_figure() -> None:
    times_s = np.arange(1.0, 9.0, 0.4)
    others = [60.3, 72.4, 75.1, 80.2]
    notes = [
        HeardNote(None, t, t + 0.4, np.array([t, t + 0.4]), np.full(2, others[i % len(others)]))
        for i, t in enumerate(times_s.tolist())
    ]
    assert _followed_notes(notes) == []


@pytest.mark.parametrize("frames", [1, 7, 100])
def test_how_many_frames_come_at_once_changes_nothing(frames: int) -> None:
    notes = _take(_lesson())
    whole, parts = _followed_notes(notes), _followed_notes(notes, frames)
    assert [(p.figure, p.support) for p in parts] == [(p.figure, p.support) for p in whole]
    for one, other in zip(parts, whole, strict=True):
        assert np.array_equal(one.times_s, other.times_s)
        assert np.array_equal(one.beats, other.beats)


@pytest.mark.parametrize("held", [[50.3], [62.0, 55.0], []])
def test_what_is_held_for_long_hides_nothing_that_comes_after_it(held: list[float]) -> None:
    """A frame like one that changed nothing is not worked out; frames that differ a little all are."""
    lesson = _lesson()
    expectations = [expect(figure, lesson.copedent) for figure in lesson.figures]
    points = np.array([1.0, 31.0])
    notes = [HeardNote(string, 1.0, 31.0, points, np.full(2, midi)) for string, midi in enumerate(held, 1)]
    notes += _played(expectations[1], 32.0, lesson.beat_s) + _played(expectations[2], 60.0, lesson.beat_s)
    followers = [Follower(expectations, lesson.beat_s) for _ in range(2)]
    for glance in glances_of(notes):
        followers[0].feed(glance)
        restless = glance.onset + np.float32(1e-6) * (np.arange(len(glance.onset)) % 2).astype(np.float32)
        followers[1].feed(Glance(glance.contrast, glance.purity, restless, glance.loud))
    found, worked_out = (follower.passages() for follower in followers)
    assert [passage.figure for passage in found][-2:] == [1, 2]
    assert [passage.figure for passage in found] == [passage.figure for passage in worked_out]
    for one, other in zip(found, worked_out, strict=True):
        assert np.array_equal(one.times_s, other.times_s)
        assert np.array_equal(one.beats, other.beats)


def test_a_player_s_own_time_is_followed_and_never_runs_backwards() -> None:
    """The second half of the figure comes a beat late: the beat is reached when it is played."""
    lesson = _lesson()
    expectation = expect(lesson.figures[1], lesson.copedent)
    notes = []
    for note in _played(expectation, 1.0, lesson.beat_s):
        late_s = lesson.beat_s if note.start_s > 2.0 else 0.0
        end_s = note.end_s + lesson.beat_s
        notes.append(HeardNote(note.string, note.start_s + late_s, end_s, note.times_s + late_s, note.midis))
    (passage,) = _followed_notes(notes)
    assert passage.time_of(1.0) == pytest.approx(1.0, abs=0.05)
    assert passage.time_of(3.0) == pytest.approx(1.0 + 3.0 * lesson.beat_s, abs=0.05)
    assert np.all(np.diff(passage.beats) >= 0.0)
    times_s = [passage.time_of(beat) for beat in np.arange(1.0, 5.0, 0.1)]
    assert times_s == sorted(times_s)
