"""The bundled lesson shows what a lesson can ask for, and can be played."""

from __future__ import annotations

from livecheck.demo.planted import path_of
from livecheck.lesson.expectation import expect
from livecheck.sources.library import load_lesson

LESSON = load_lesson(str(path_of("lesson.toml")))
STEPS = [step for figure in LESSON.figures for step in figure.steps]
MOVES = {c.move for figure in LESSON.figures for c in expect(figure, LESSON.copedent).checkpoints}
HIGHEST_FRET = 24
"""Common practice, no source: where the neck of a ten-string ends."""
HEELS = [{"A", "B"}, {"B", "C"}]
"""Pedals that one foot reaches together: neighbours. Common practice, no source."""


def test_it_has_five_figures_and_every_kind_of_playing() -> None:
    assert len(LESSON.figures) == 5
    assert {len(step.pick) for step in STEPS} == {0, 1, 2, 3}
    assert {"slide", "pedal", "both"} <= MOVES
    assert any(step.roll for step in STEPS)
    assert any(0.0 < level < 1.0 for step in STEPS for level in step.stance.down.values())
    assert any(step.block is None for step in STEPS)
    assert any(
        before.stance.down.get("LKR") and step.is_move and not step.stance.down.get("LKR")
        for figure in LESSON.figures
        for before, step in zip(figure.steps, figure.steps[1:], strict=False)
    )
    fall = next(figure for figure in LESSON.figures if figure.name == "fall")
    assert [bool(step.pick) for step in fall.steps] == [True, False, False, False, False, False]


def test_hands_and_feet_can_do_it() -> None:
    for step in STEPS:
        pedals = {name for name in step.stance.down if len(name) == 1}
        assert len(pedals) < 2 or pedals in HEELS
        assert len(step.stance.down) - len(pedals) <= 1
        assert all(0 < fret < HIGHEST_FRET for _, fret in step.stance.bar.frets)
        assert len(step.pick) <= 3
