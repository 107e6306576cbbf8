"""What sounds at each step, by hand and against the notes that are expected."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.lesson.expectation import expect
from livecheck.lesson.reading import read_lesson
from livecheck.lesson.sounding import sounding
from livecheck.sources.library import load_copedent
from tests.fuzz import invented

E9 = load_copedent("e9-ten-string")
WALTZ = """
format = 1
tempo = 80
copedent = "e9-ten-string"
[[figure]]
name = "1"
length = 8
steps = [
  { beat = 1, fret = 3, pick = [5, 6] },
  { beat = 2, down = ["A", "B"], over = 0.5 },
  { beat = 4, fret = 8, down = [], pick = [4], ring = [5], harmonic = 12 },
  { beat = 5, block = [5] },
  { beat = 6, pick = [8] },
  { beat = 8, block = "all" },
]
"""


def test_by_hand() -> None:
    (figure,) = read_lesson(WALTZ, "waltz.toml", lambda _: E9).figures
    found = sounding(figure, E9)
    assert [sounds.strings for sounds in found] == [(5, 6), (5, 6), (5, 4), (4,), (8,), ()]
    assert [sounds.continues for sounds in found] == [(None, None), (0, 1), (0, None), (1,), (None,), ()]
    assert found[1].midis == (64.0, 60.0)
    assert found[2].midis == (67.0, 72.0)
    assert [sounds.harmonics for sounds in found[2:5]] == [(None, 12), (12,), (None,)]


@given(st.integers(0, 2**32))
def test_the_same_strings_as_are_expected(seed: int) -> None:
    """At every step, those strings sound whose note has begun with it or before and ends later."""
    lesson = invented.lesson(Random(seed))
    for figure in lesson.figures:
        notes = expect(figure, lesson.copedent).notes
        for step, sounds in zip(figure.steps, sounding(figure, lesson.copedent), strict=True):
            after = float(step.beat) + 1e-9
            ringing = {n.string for n in notes if n.checkpoints[0].step <= step.number and n.end_beat > after}
            assert set(sounds.strings) == ringing
            for string, midi in zip(sounds.strings, sounds.midis, strict=True):
                assert midi == pytest.approx(step.stance.midi(string, lesson.copedent))
