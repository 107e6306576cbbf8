"""A figure that was played badly is found between others, whatever their order: lessons are played through more than
once."""

from __future__ import annotations

import pytest

from tests.judging.midi_player import Take, figure_of, lesson_of

LESSON = lesson_of(
    figure_of(
        "a", 6, "beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5, pick = [5, 6]",
        "beat = 5, fret = 8, pick = [3, 4]",
    )
    + figure_of(
        "b", 6, "beat = 1, fret = 8, pick = [3, 4]", "beat = 2, fret = 10, pick = [3, 5]",
        "beat = 4, fret = 1, pick = [6, 8]", "beat = 5, fret = 6, pick = [8, 10]",
    ),
    tempo=90,
)  # fmt: skip


@pytest.mark.parametrize(("order", "weak"), [("ab", 1), ("aba", 1), ("abab", 1), ("abab", 2), ("abaab", 1)])
def test_strings_that_died_away_with_one_of_two_wrong_are_still_a_figure(order: str, weak: int) -> None:
    take, at_s = Take(LESSON), 0.5
    for number, name in enumerate(order):
        played = take.play(name, at_s)
        if number == weak:
            for (step, string), stroke in played.items():
                stroke.end_s = min(stroke.end_s, stroke.start_s + 0.35)
                if string == min(other for where, other in played if where == step):
                    stroke.detune(-3.0)
        at_s = take.end_s(name, at_s) + 1.0
    assert "".join(figure["figure"] for figure in take.report()["figures"] if figure["found"]) == order


def test_what_is_no_figure_when_all_is_told_tells_no_tempo() -> None:
    """The same, slower than all else, with a stray in it that speaks against it."""
    take, at_s = Take(LESSON), 0.5
    for name, tempo in (("a", 90.0), ("b", 87.0), ("a", 90.0)):
        played = take.play(name, at_s, tempo)
        if name == "b":
            for (step, string), stroke in played.items():
                stroke.end_s = min(stroke.end_s, stroke.start_s + 0.35)
                if string == min(other for where, other in played if where == step):
                    stroke.detune(-3.0)
            take.strike(9, at_s + 1.1, at_s + 1.3, 63.0)
        at_s = take.end_s(name, at_s, tempo) + 1.0
    report = take.report()
    assert "".join(figure["figure"] for figure in report["figures"] if figure["found"]) == "aa"
    assert report["tempo"] == pytest.approx(90.0, abs=0.01)
