"""Of equal notes the first may be wrong: the figure lies where it was begun, whatever comes before it."""

from __future__ import annotations

import pytest

from tests.judging.midi_player import Take, extras, faults, figure_of, lesson_of

TEMPO = 90.0
LESSON = lesson_of(
    figure_of(
        "a", 6, "beat = 1, fret = 5, pick = [5, 6]", "beat = 2, fret = 7, pick = [5, 6]",
        "beat = 3, fret = 8, pick = [3, 4]",
    )
    + figure_of(
        "b", 6, "beat = 1, fret = 3, pick = [5]", "beat = 2, pick = [5]", "beat = 3, pick = [5]", "beat = 4, pick = [5]"
    ),
    tempo=TEMPO,
)  # fmt: skip


@pytest.mark.parametrize("timing", ["free", "click"])
@pytest.mark.parametrize("off_s", [-0.06, -0.012, 0.0, 0.012, 0.06])
@pytest.mark.parametrize("rest", [0, 1, 3])
@pytest.mark.parametrize(("string", "semitones"), [(6, -5.0), (4, 4.0), (4, 7.0)])
def test_the_first_of_equal_notes_is_the_figures_own_though_it_is_on_another_string(
    timing: str, off_s: float, rest: int, string: int, semitones: float
) -> None:
    """It is struck a beat before the second one, which was thought to be the first: what comes so early had been the
    figure's or that of the one before, or nobody's, as it was a little late or early."""
    take, at_s = Take(LESSON), 0.5 + (6 + rest) * 60.0 / TEMPO
    take.play("a", 0.5)
    first = take.play("b", at_s)[1, 5]
    take.leave_out(first)
    take.strike(string, first.start_s + off_s, first.end_s, first.points[0][1] + semitones)
    report = take.report(timing=timing)
    assert faults(report) == {("b", 1, 5): ["wrong-note"]}
    assert extras(report) == []
