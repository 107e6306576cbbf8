"""A lick in other keys and places: the same rhythm, every note so many semitones away, hands and feet can do it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import expect
from livecheck.lesson.figure import Figure, Lesson
from livecheck.lesson.reading import read_lesson
from livecheck.lesson.sounding import sounding
from livecheck.lesson.writing import lesson_text
from livecheck.neck.lick import elsewhere, shifted, voices_of
from livecheck.neck.neck import Neck
from livecheck.neck.passage import Voice
from tests.bench import lessons
from tests.neck.instruments import E9, LAP

NECK = Neck(E9)
HOLDS = {frozenset(hold.names) for hold in NECK.holds}
WALTZ = """
format = 1
tempo = 80
copedent = "e9-ten-string"
[[figure]]
name = "1"
length = 8
steps = [
  { beat = 1, fret = 3, pick = [5, 6], remark = "there" },
  { beat = 2, down = ["A", "B"], over = 0.5 },
  { beat = 3, fret = 8, over = 0.5 },
  { beat = 4, down = [], pick = [4], ring = [5] },
  { beat = 5, block = [5] },
  { beat = 6, fret = 10, over = 0.75 },
  { beat = 8, block = "all" },
]
"""


def lesson(text: str = WALTZ, copedent: Copedent = E9) -> Lesson:
    return read_lesson(text, "lesson.toml", lambda _: copedent)


def curves(figure: Figure, copedent: Copedent) -> list[tuple[float, float, list[float]]]:
    """Of each note its beats, and its pitch at many of them; in order of time and pitch."""
    found = []
    for note in expect(figure, copedent).notes:
        beats = np.linspace(note.start_beat, note.end_beat, 41)
        found.append((note.start_beat, note.end_beat, [round(float(m), 6) for m in note.midi_at(beats)]))
    return sorted(found)


def test_the_voices_of_a_step() -> None:
    first, second, *_ = sounding(lesson().figures[0], E9)
    assert voices_of(first, 5) == (Voice(67.0), Voice(64.0))
    assert voices_of(second) == (Voice(64.0, 0), Voice(60.0, 1))


@pytest.mark.parametrize(("by", "fret"), [(5, 8.0), (7, 10.0), (-2, 1.0), (-5, 10.0), (12, 15.0)])
def test_the_same_hands(by: int, fret: float) -> None:
    figure = lesson().figures[0]
    moved = shifted(figure, by)
    assert moved is not None
    assert moved.steps[0].stance.bar.fret_at(5) == fret
    assert [step.stance.down for step in moved.steps] == [step.stance.down for step in figure.steps]
    octave = fret - 3.0 - by
    want = [(a, b, [midi + by + octave for midi in midis]) for a, b, midis in curves(figure, E9)]
    assert curves(moved, E9) == want


def test_open_strings_go_up_only_and_nothing_leaves_the_neck() -> None:
    low = lesson(WALTZ.replace("fret = 3", "fret = 0"))
    assert shifted(low.figures[0], -3).steps[0].stance.bar.fret_at(5) == 9.0  # type: ignore[union-attr]
    wide = lesson(WALTZ.replace("fret = 10", "fret = 20"))
    assert shifted(wide.figures[0], 6) is None


@pytest.mark.parametrize("by", [0, 5, -3])
def test_other_ways(by: int) -> None:
    figure = lesson().figures[0]
    ways = list(elsewhere(figure, NECK, by, 3))
    assert len(ways) == 3
    assert len({tuple(step.pick for step in way.steps) for way in (figure, *ways)}) == 4
    for way in ways:
        assert not any(step.remark for step in way.steps), "what was said of the hands may be wrong now"
        _is_the_same(figure, way, by, E9)


def test_on_chosen_strings() -> None:
    (way,) = elsewhere(lesson().figures[0], NECK, 0, 1, strings=(6, 8, 5, 4))
    assert {string for step in way.steps for string in step.pick} <= {4, 5, 6, 8}


def _is_the_same(figure: Figure, way: Figure, by: int, copedent: Copedent) -> None:
    """Notes and rhythm; glides may differ between the steps, as bar and pedals share them otherwise."""
    for sounds, other in zip(sounding(figure, copedent), sounding(way, copedent), strict=True):
        assert sorted(midi + by for midi in sounds.midis) == sorted(other.midis)
    one, two = expect(figure, copedent), expect(way, copedent)
    assert sorted((n.start_beat, n.end_beat) for n in one.notes) == sorted(
        (n.start_beat, n.end_beat) for n in two.notes
    )
    for step in way.steps:
        assert frozenset(step.stance.down) in HOLDS
    whole = Lesson("lick", 80.0, "4/4", copedent, "own.toml", (way,))
    assert read_lesson(lesson_text(whole), "lick.toml", lambda _: copedent).figures[0] == way


@settings(max_examples=8, deadline=None)
@given(st.sampled_from(["double-stops", "grips", "strings", "lines"]), st.integers(0, 400), st.integers(-7, 7))
def test_any_lick(kind: str, seed: int, by: int) -> None:
    for figure in lessons.parse(lessons.write(kind, seed), "lesson.toml").figures[:2]:
        for way in elsewhere(figure, NECK, by, 1):
            _is_the_same(figure, way, by, E9)


def test_a_lick_of_the_lap_steel() -> None:
    text = 'format = 1\ntempo = 60\ncopedent = "x"\n[[figure]]\nname = "1"\nlength = 4\nsteps = [\n'
    text += "{ beat = 1, slant = { 2 = 4, 3 = 3 }, pick = [2, 3] }, { beat = 2, fret = 5, over = 0.5 } ]\n"
    (figure,) = lesson(text, LAP).figures
    for way in elsewhere(figure, Neck(LAP), 2, 2):
        _is_the_same(figure, way, 2, LAP)
    assert shifted(figure, 2).steps[0].stance.bar.fret_at(2) == 6.0  # type: ignore[union-attr]
