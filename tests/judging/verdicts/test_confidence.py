"""How sure a verdict is."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.score import TimedScore
from livecheck.judging.timing import ARRIVAL_WEIGHT
from livecheck.judging.verdict import CheckpointVerdict, FigureVerdict
from livecheck.judging.verdicts.confidence import MASKED, Basis, confidence_of
from livecheck.judging.verdicts.judge import LEAST_CLEAR, Judge
from livecheck.lesson.expectation import expect
from livecheck.lesson.figure import Figure
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import load_copedent, load_tolerances
from tests.judging.midi_player import figure_of, lesson_of

CLEAR = Basis(said=True, heard=True, support=1.0, free=1.0, margin=1.0, right=1.0)


def test_a_clear_verdict_is_nearly_certain() -> None:
    assert confidence_of(CLEAR) >= 0.95


@pytest.mark.parametrize("less", [{"support": 0.3}, {"free": 0.2}, {"margin": 0.01}, {"right": 0.5}])
def test_whatever_is_missing_makes_it_less_sure(less: dict[str, Any]) -> None:
    assert confidence_of(replace(CLEAR, **less)) < confidence_of(CLEAR)


def test_what_is_said_needs_more_than_what_is_not() -> None:
    unclear = replace(CLEAR, support=0.5, margin=0.1)
    assert confidence_of(unclear) < confidence_of(replace(unclear, said=False))


def test_a_string_that_another_one_covers_is_not_accused_of_missing() -> None:
    missed = replace(CLEAR, heard=False, support=0.0, free=0.0)
    assert confidence_of(missed) < 0.5


def test_a_string_that_another_one_covers_is_granted_and_not_known_to_be_right() -> None:
    """An octave sounds the same whether its upper string was struck or not."""
    granted = replace(CLEAR, said=False, free=0.0)
    assert 0.5 < confidence_of(granted) < 0.95 < confidence_of(replace(granted, free=0.3))


@pytest.mark.parametrize("support", [0.0, 1.0])
@pytest.mark.parametrize("right", [0.0, 1.0])
def test_it_is_a_probability(support: float, right: float) -> None:
    assert 0.0 < confidence_of(replace(CLEAR, support=support, right=right)) < 1.0


def test_what_is_unsure_lets_practice_go_on() -> None:
    missed = CheckpointVerdict(
        1, 5, "pick", None, 1.0, True, 0.0, None, None, 60.0, None, None, ("missed",), confidence=0.4
    )
    figure = FigureVerdict(Figure("1", Fraction(4), ()), 1, True, 0.0, 60.0, (missed,), ())
    assert figure.passed
    assert not figure.clean
    assert not replace(figure, checkpoints=(replace(missed, confidence=0.6),)).passed


def test_what_hands_did_to_one_string_they_did_to_the_one_that_hides_behind_it() -> None:
    """An octave on strings 4 and 8 whose bar stays where it was: string 4 alone would prove nothing."""
    text = lesson_of(figure_of("1", 5, "beat = 1, fret = 3, pick = [4, 8]", "beat = 3, fret = 5"))
    lesson = read_lesson(text, "lesson.toml", load_copedent)
    score = TimedScore(expect(lesson.figures[0], lesson.copedent), 1.0, 1.0)
    times_s = np.arange(1.05, 5.0, 0.005)
    heard = [
        HeardNote(s, 1.0, 5.0, times_s, np.full(len(times_s), midi), supports=np.ones(len(times_s)))
        for s, midi in ((4, 67.0), (8, 55.0))
    ]
    verdicts = Judge(lesson.copedent, load_tolerances("standard"), 0.012).judge(score, heard).checkpoints
    upper, lower = (c for c in verdicts if c.step == 2)
    assert upper.faults == lower.faults == ("missed-move",)
    assert upper.confidence == lower.confidence > MASKED


@pytest.mark.parametrize(("semitones", "sure"), [((1.0, 1.0), True), ((3.7, -1.6), False)])
def test_what_has_a_cause_does_not_put_other_verdicts_in_doubt(semitones: tuple[float, float], sure: bool) -> None:
    """One of three strings was not struck; then the two others sound a fret too high, or anywhere."""
    text = lesson_of(figure_of("1", 5, "beat = 1, fret = 3, pick = [4, 5, 6]", "beat = 3, fret = 5, pick = [4, 5]"))
    lesson = read_lesson(text, "lesson.toml", load_copedent)
    score = TimedScore(expect(lesson.figures[0], lesson.copedent), 1.0, 1.0)
    heard = []
    for string, midi, off in ((4, 67.0, semitones[0]), (5, 62.0, semitones[1])):
        for start_s, pitch in ((1.0, midi), (3.0, midi + 2.0 + off)):
            times_s = np.arange(start_s + 0.05, start_s + 2.0, 0.01)
            full = np.full(len(times_s), pitch)
            heard.append(HeardNote(string, start_s, start_s + 2.0, times_s, full, supports=np.ones(len(full))))
    verdicts = Judge(lesson.copedent, load_tolerances("standard"), 0.012).judge(score, heard).checkpoints
    (missed,) = (c for c in verdicts if c.faults == ("missed",))
    assert [c.faults for c in verdicts if c.step == 2] == [("wrong-note",)] * 2
    assert missed.sure is sure


def test_a_brief_judgement_has_the_same_events_and_faults() -> None:
    text = lesson_of(figure_of("1", 5, "beat = 1, fret = 3, pick = [4, 5]", "beat = 3, fret = 5"))
    lesson = read_lesson(text, "lesson.toml", load_copedent)
    score = TimedScore(expect(lesson.figures[0], lesson.copedent), 1.0, 1.0)
    times_s = np.arange(1.05, 5.0, 0.005)
    moved = np.interp(times_s, (2.7, 3.2), (0.0, 2.0))
    heard = [
        HeardNote(s, 1.0, 5.0, times_s, midi + moved, supports=np.ones(len(times_s)))
        for s, midi in ((4, 66.8), (5, 61.8))
    ]
    judge = Judge(lesson.copedent, load_tolerances("standard"), 0.012)
    whole, brief = judge.judge(score, heard), judge.judge_briefly(score, heard)
    assert any(c.cause for c in whole.checkpoints)
    assert brief.events() == whole.events()
    assert brief.cents_off() == whole.cents_off()
    assert [c.faults for c in brief.checkpoints] == [c.faults for c in whole.checkpoints]


@pytest.mark.parametrize(("heard_until_s", "weighs"), [(5.0, ARRIVAL_WEIGHT), (2.9, LEAST_CLEAR * ARRIVAL_WEIGHT)])
def test_the_end_of_a_glide_that_had_died_away_tells_little_of_the_time(heard_until_s: float, weighs: float) -> None:
    """A frame at the end of it is all that was heard once more."""
    text = lesson_of(figure_of("1", 5, "beat = 1, fret = 3, pick = [5]", "beat = 3, fret = 5"))
    lesson = read_lesson(text, "lesson.toml", load_copedent)
    score = TimedScore(expect(lesson.figures[0], lesson.copedent), 1.0, 1.0)
    times_s = np.arange(1.05, 5.0, 0.01)
    times_s = times_s[(times_s < heard_until_s) | (times_s > 4.9)]
    midis = 62.0 + np.interp(times_s, (2.7, 3.2), (0.0, 2.0))
    heard = HeardNote(5, 1.0, 5.0, times_s, midis, supports=np.ones(len(times_s)))
    pick, move = Judge(lesson.copedent, load_tolerances("standard"), 0.012).judge_briefly(score, [heard]).events()
    assert [pick.weight, move.weight] == pytest.approx([1.0, weighs])


def test_a_string_hides_only_behind_one_that_was_heard() -> None:
    """The same octave of which string 8 was not struck: string 4 sounds alone, and stays where it was."""
    text = lesson_of(figure_of("1", 5, "beat = 1, fret = 3, pick = [4, 8]", "beat = 3, fret = 5"))
    lesson = read_lesson(text, "lesson.toml", load_copedent)
    score = TimedScore(expect(lesson.figures[0], lesson.copedent), 1.0, 1.0)
    times_s = np.arange(1.05, 5.0, 0.005)
    heard = [HeardNote(4, 1.0, 5.0, times_s, np.full(len(times_s), 67.0), supports=np.ones(len(times_s)))]
    verdicts = Judge(lesson.copedent, load_tolerances("standard"), 0.012).judge(score, heard).checkpoints
    stayed = next(c for c in verdicts if (c.step, c.string) == (2, 4))
    assert stayed.faults == ("missed-move",)
    assert stayed.confidence > MASKED
