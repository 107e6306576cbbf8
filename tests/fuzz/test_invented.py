"""Lessons that are right by construction: written, read, expected and shown."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from livecheck.lesson.expectation import HARMONIC_SEMITONES, Note, expect
from livecheck.lesson.figure import Figure, Lesson
from livecheck.lesson.reading import read_copedent, read_lesson
from tests.fuzz import invented
from tests.fuzz.kinds import WIDTH, shown
from tests.fuzz.written import copedent_text, lesson_text

LESSONS = st.integers(0, 2**32).map(lambda seed: invented.lesson(Random(seed)))


@given(LESSONS, st.randoms(use_true_random=False))
def test_a_lesson_that_is_written_is_read_as_it_was(lesson: Lesson, rng: Random) -> None:
    own = read_copedent(copedent_text(lesson.copedent), "made-up.toml")
    assert own == lesson.copedent
    assert read_lesson(lesson_text(lesson, rng), "lesson.toml", lambda _: own) == lesson


@given(LESSONS)
def test_curves_are_numbers_while_a_string_rings_and_stay_where_bar_and_pedals_are(lesson: Lesson) -> None:
    for figure in lesson.figures:
        notes = expect(figure, lesson.copedent).notes
        assert len(notes) == sum(len(step.pick) for step in figure.steps)
        for note in notes:
            assert 1.0 <= note.start_beat < note.end_beat <= float(1 + figure.length)
            beats = [beat for beat, _ in note.knots]
            assert beats == sorted(beats)
            curve = note.midi_at(np.linspace(note.start_beat, note.end_beat, 200))
            lowest, highest = _reach(lesson, figure, note)
            assert np.isfinite(curve).all()
            assert lowest - 1e-6 <= curve.min() <= curve.max() <= highest + 1e-6


def _reach(lesson: Lesson, figure: Figure, note: Note) -> tuple[float, float]:
    """Lowest and highest pitch of a string with the bar at any of the figure's places and the feet at any other."""
    step = figure.steps[note.checkpoints[0].step - 1]
    raised = HARMONIC_SEMITONES[step.harmonic] if step.harmonic else 0.0
    frets = [step.stance.bar.fret_at(note.string) for step in figure.steps]
    shifts = [step.stance.shift(note.string, lesson.copedent) for step in figure.steps]
    base = lesson.copedent.open_midi(note.string) + raised
    return base + min(frets) + min(shifts), base + max(frets) + max(shifts)


@given(LESSONS)
def test_a_string_arrives_where_its_step_leaves_it(lesson: Lesson) -> None:
    for figure in lesson.figures:
        for note in expect(figure, lesson.copedent).notes:
            first = figure.steps[note.checkpoints[0].step - 1]
            raised = HARMONIC_SEMITONES[first.harmonic] if first.harmonic else 0.0
            for checkpoint in note.checkpoints:
                stance = figure.steps[checkpoint.step - 1].stance
                assert checkpoint.midi == pytest.approx(stance.midi(note.string, lesson.copedent) + raised)
                if checkpoint.kind == "arrive" and not _is_moving(figure, checkpoint.step):
                    assert float(note.midi_at(np.array([checkpoint.beat]))[0]) == pytest.approx(checkpoint.midi)
                    assert checkpoint.from_midi is not None
                    assert abs(checkpoint.midi - checkpoint.from_midi) >= 0.5 - 1e-6


def _is_moving(figure: Figure, number: int) -> bool:
    """Whether a later step's move begins before a step is complete: the bar's past the pedals', or the reverse."""
    later = (step for step in figure.steps[number:] if step.moves_bar or step.moves_changes)
    return any(step.beat - step.over < figure.steps[number - 1].beat for step in later)


@settings(max_examples=40)
@given(LESSONS, st.booleans())
def test_a_lesson_fits_a_terminal(lesson: Lesson, notes: bool) -> None:
    lines = shown(lesson, notes)
    assert max(map(len, lines)) <= WIDTH
    for figure in lesson.figures:
        assert any(line.startswith(f"Figure {figure.name}, ") for line in lines)


@settings(max_examples=30)
@given(LESSONS, st.integers(1, 40))
def test_on_a_narrow_terminal_a_step_is_shown_whole(lesson: Lesson, width: int) -> None:
    widest = max(map(len, shown(lesson, notes=False, width=1)))
    assert max(map(len, shown(lesson, notes=False, width=width))) <= max(width, widest)


@settings(max_examples=60)
@given(LESSONS, st.text(), st.text(), st.text(alphabet=st.sampled_from("ab[] /\n\t\x1b\u202e長—é")))
def test_whatever_words_a_lesson_has_it_fits_a_terminal(lesson: Lesson, title: str, name: str, remark: str) -> None:
    first, *rest = lesson.figures
    steps = tuple(replace(step, remark=remark) for step in first.steps)
    named = (replace(first, name=name, steps=steps), *rest)
    lines = shown(replace(lesson, title=title, figures=named), notes=False)
    assert max(map(cell_len, lines)) <= WIDTH
    assert all(line.isprintable() for line in lines)
