"""What is known of a figure's time before it is listened to closely."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
import pytest

from livecheck.judging.brief import Brief
from livecheck.judging.places.fitting import Fitting
from livecheck.judging.places.passage import Passage
from livecheck.judging.timing import Line
from livecheck.judging.verdict import CheckpointVerdict, ExtraVerdict, Fault
from livecheck.judging.verdicts.judge import Judgement
from livecheck.lesson.expectation import Kind
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import load_copedent, load_tolerances
from tests.judging.midi_player import figure_of, lesson_of

STEPS = ("beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5, pick = [3, 4, 5], roll = 0.25")


def _fitting(*figures: str, timing: Literal["free", "click"] = "free") -> Fitting:
    lesson = read_lesson(lesson_of("\n".join(figures)), "lesson.toml", load_copedent)
    return Fitting(Brief(lesson, lesson.figures, load_tolerances("standard"), timing))


def _hurried(figure: int, start_s: float, beat_s: float = 0.3) -> Passage:
    times_s = np.arange(0.0, 4.0 * beat_s, 0.02)
    return Passage(figure, start_s + times_s, 1.0 + times_s / beat_s, 0.8)


def test_a_beat_is_as_long_as_each_figure_reaches_to_the_next() -> None:
    fitting = _fitting(*(figure_of(str(number), 6, *STEPS) for number in (1, 2, 3)))
    passages = [_hurried(0, 1.0), _hurried(1, 8.2), _hurried(2, 15.4)]
    assert fitting.beat_between(passages) == pytest.approx(1.2)


def test_to_a_click_the_beat_is_the_click_s() -> None:
    fitting = _fitting(*(figure_of(str(number), 6, *STEPS) for number in (1, 2, 3)), timing="click")
    assert fitting.beat_between([_hurried(0, 1.0), _hurried(1, 8.2), _hurried(2, 15.4)]) is None


def test_what_no_player_would_play_is_no_beat() -> None:
    fitting = _fitting(*(figure_of(str(number), 6, *STEPS) for number in (1, 2, 3)))
    assert fitting.beat_between([_hurried(0, 1.0), _hurried(1, 21.0), _hurried(2, 41.0)]) is None
    assert fitting.beat_between([_hurried(0, 1.0), _hurried(1, 8.2)]) is None


@pytest.mark.parametrize(("start_s", "kept"), [(2.2, [0, 2]), (2.7, [0, 1, 2])])
def test_what_is_doubtful_begins_after_what_is_known_before_it(start_s: float, kept: list[int]) -> None:
    """The known one was broken off after a beat and a half."""
    fitting = _fitting(*(figure_of(str(number), 6, *STEPS) for number in (1, 2, 3)))
    times_s = np.arange(0.0, 1.5, 0.02)
    passages = [Passage(0, 1.0 + times_s, 1.0 + times_s, 0.8), _hurried(1, start_s, 1.0), _hurried(2, 9.0, 1.0)]
    lines = [Line(at_s, 1.0) for at_s in (1.0, start_s, 9.0)]
    assert fitting.apart(passages, lines, [True, False, True]) == kept


def test_a_rolled_grip_is_one_event_of_the_player_s_way() -> None:
    """Three strings that come too soon together would outweigh all that came in time."""
    fitting = _fitting(figure_of("1", 6, *STEPS))
    times_s = np.arange(0.0, 6.0, 0.02)
    passage = Passage(0, times_s, 1.0 + times_s, 0.8)
    assert [(event.beat, round(event.time_s, 6)) for event in fitting.path_events(passage)] == [(1.0, 0.0), (3.0, 2.0)]


def _checkpoint(judged: bool, right: bool) -> CheckpointVerdict:
    heard_s = 1.0 if right else None
    faults: tuple[Fault, ...] = ("missed",) if judged and not right else ()
    return CheckpointVerdict(1, 5, "pick", None, 1.0, judged, 1.0, heard_s, None, 60.0, None, None, faults)


@pytest.mark.parametrize(("wrong", "unjudged", "is_found"), [(1, 0, True), (1, 4, True), (5, 0, False)])
def test_what_is_not_judged_after_a_string_went_astray_hardly_speaks_against_a_figure(
    wrong: int, unjudged: int, is_found: bool
) -> None:
    """Two picks are right; with support for half of the sound two fifths must be."""
    fitting = _fitting(figure_of("1", 6, *STEPS))
    checkpoints = [_checkpoint(True, True)] * 2 + [_checkpoint(True, False)] * wrong
    checkpoints += [_checkpoint(False, False)] * unjudged
    judgement = Judgement(fitting.brief.figures[0], tuple(checkpoints), (), {})
    passage = Passage(0, np.array([1.0, 2.0]), np.array([1.0, 2.0]), 0.58)
    assert fitting.is_found(passage, judgement, alone=False, aside=False) is is_found


@pytest.mark.parametrize(
    ("off", "aside", "is_found"),
    [((2.0, 2.0, 2.0), False, True), ((2.0, 2.0, 2.0), True, False), ((2.0, -1.0, 5.0), False, False)],
)
def test_a_grip_with_the_bar_in_the_wrong_place_is_one_mistake(
    off: Sequence[float], aside: bool, is_found: bool
) -> None:
    """Three right, and two grips of three that are off by as much, or each string by something else."""
    fitting = _fitting(figure_of("1", 6, *STEPS))
    checkpoints = [replace(_checkpoint(True, True), string=string) for string in (1, 2, 3)]
    checkpoints += [
        replace(
            _checkpoint(True, False),
            step=step,
            string=string,
            heard_midi=60.0 + by,
            cents=100.0 * by,
            faults=("wrong-note",),
        )
        for step in (2, 3)
        for string, by in enumerate(off, 1)
    ]
    judgement = Judgement(fitting.brief.figures[0], tuple(checkpoints), (), {})
    passage = Passage(0, np.array([1.0, 2.0]), np.array([1.0, 2.0]), 0.47)
    assert fitting.is_found(passage, judgement, alone=False, aside=aside) is is_found


@pytest.mark.parametrize(
    ("strings", "aside", "is_found"), [(2, False, True), (1, False, True), (1, True, False), (2, True, True)]
)
def test_a_figure_in_doubt_whose_strings_faded_after_their_picks_is_found_by_these(
    strings: int, aside: bool, is_found: bool
) -> None:
    """Nothing is left of them when the bar moves, four times in all. After the same figure one note may be a stray."""
    fitting = _fitting(figure_of("1", 6, *STEPS))
    numbers = range(1, strings + 1)
    checkpoints = [replace(_checkpoint(True, True), string=string) for string in numbers]
    checkpoints += [
        replace(_checkpoint(False, False), step=step, string=string) for step in (2, 3, 4, 5) for string in numbers
    ]
    judgement = Judgement(fitting.brief.figures[0], tuple(checkpoints), (), {})
    passage = Passage(0, np.array([1.0, 2.0]), np.array([1.0, 2.0]), 0.4, doubtful=True)
    assert fitting.is_found(passage, judgement, alone=False, aside=aside) is is_found


@pytest.mark.parametrize(
    ("figures", "right", "kept"),
    [
        ((0, 0, 1), 1, [0, 2]),
        ((0, 0, 1), 2, [0, 1, 2]),
        ((0, 0, 0), 1, [0, 1, 2]),
        ((0, 1, 2), 1, [0, 1, 2]),
        ((1, 2, 1), 1, [0, 2]),
        ((1, 0, 2), 1, [0, 2]),
        ((2, 0, 1), 1, [0, 1, 2]),
    ],
)
def test_a_single_note_after_the_same_figure_or_out_of_order_makes_no_attempt(
    figures: tuple[int, int, int], right: int, kept: list[int]
) -> None:
    """The second passage has so many of its three notes, and sounds like its figure. Before the same figure it may have
    been broken off, and in the lesson's order, or where the player went back, the rest of it may have been left out."""
    fitting = _fitting(*(figure_of(str(number), 6, *STEPS) for number in (1, 2, 3)))
    passages = [_hurried(figure, start_s) for figure, start_s in zip(figures, (1.0, 8.0, 15.0), strict=True)]
    judgements = [
        Judgement(
            fitting.brief.figures[0],
            (_checkpoint(True, True),) * some + (_checkpoint(True, False),) * (3 - some),
            (),
            {},
        )
        for some in (3, right, 3)
    ]
    assert fitting.found(passages, judgements) == kept


@pytest.mark.parametrize(("kinds", "is_found"), [(("pick", "arrive"), False), (("pick", "pick"), True)])
def test_a_single_note_that_moves_on_makes_no_attempt(kinds: Sequence[Kind], is_found: bool) -> None:
    """After the same figure; two notes of it do, though the other three are missed."""
    fitting = _fitting(figure_of("1", 6, *STEPS))
    right = [replace(_checkpoint(True, True), kind=kind) for kind in kinds]
    judgement = Judgement(fitting.brief.figures[0], (*right, *[_checkpoint(True, False)] * 3), (), {})
    assert fitting.is_found(_hurried(0, 1.0), judgement, alone=False, aside=True) is is_found


def test_the_only_note_of_a_figure_is_one_by_its_sound_though_it_is_wrong() -> None:
    fitting = _fitting(figure_of("1", 6, STEPS[0]))
    wrong = replace(_checkpoint(True, True), faults=("wrong-note",))
    judgement = Judgement(fitting.brief.figures[0], (wrong,), (), {})
    assert not judgement.right
    assert fitting.is_found(_hurried(0, 1.0), judgement, alone=False, aside=True)


def test_the_passages_of_a_take_of_hours_are_soon_told_apart() -> None:
    fitting = _fitting(*(figure_of(str(number), 6, *STEPS) for number in (1, 2, 3)))
    passages = [_hurried(place % 3, 8.0 * place) for place in range(10_000)]
    judgements = [Judgement(fitting.brief.figures[0], (_checkpoint(True, True),) * 3, (), {})] * len(passages)
    began_s = time.process_time()
    assert len(fitting.found(passages, judgements)) == len(passages)
    assert time.process_time() - began_s < 1.5


@pytest.mark.parametrize(("first", "found"), [(3, [0, 1]), (2, [])])
def test_of_passages_in_doubt_one_that_is_borne_out_makes_the_lesson_certain_for_the_others(
    first: int, found: list[int]
) -> None:
    """Two thirds of the other one are right: enough where some of the lesson was played for certain."""
    fitting = _fitting(*(figure_of(str(number), 6, *STEPS) for number in (1, 2)))
    passages = [replace(_hurried(figure, 1.0 + 7.0 * figure), doubtful=True) for figure in (0, 1)]
    judgements = [
        Judgement(
            fitting.brief.figures[0],
            (_checkpoint(True, True),) * right + (_checkpoint(True, False),) * (3 - right),
            (),
            {},
        )
        for right in (first, 2)
    ]
    assert fitting.found(passages, judgements) == found


def test_a_guess_before_it_makes_no_stray_of_a_certain_figure() -> None:
    fitting = _fitting(*(figure_of(str(number), 6, *STEPS) for number in (1, 2, 3)))
    guess, certain, last = _hurried(1, 1.0), _hurried(1, 8.0), _hurried(2, 15.0)
    checkpoints = (_checkpoint(True, True), _checkpoint(True, False), _checkpoint(True, False))
    judgements = [Judgement(fitting.brief.figures[0], checkpoints, (), {})] * 3
    assert fitting.found([replace(guess, doubtful=True), certain, last], judgements) == [1, 2]


@pytest.mark.parametrize(
    ("right", "wrong", "support", "is_found"),
    [(4, 7, 0.7, True), (4, 7, 0.56, False), (2, 3, 0.56, True), (6, 7, 0.48, False), (3, 3, 0.48, True)],
)
def test_the_weaker_the_sound_of_the_whole_the_more_must_be_right(
    right: int, wrong: int, support: float, is_found: bool
) -> None:
    """What shares some notes with a figure would be told full of mistakes."""
    fitting = _fitting(figure_of("1", 6, *STEPS))
    checkpoints = [_checkpoint(True, True)] * right + [_checkpoint(True, False)] * wrong
    judgement = Judgement(fitting.brief.figures[0], tuple(checkpoints), (), {})
    passage = Passage(0, np.array([1.0, 2.0]), np.array([1.0, 2.0]), support)
    assert fitting.is_found(passage, judgement, alone=False, aside=False) is is_found


@pytest.mark.parametrize(("extras", "is_found"), [(0, True), (1, False)])
def test_what_is_struck_beyond_a_figure_speaks_against_one_in_doubt(extras: int, is_found: bool) -> None:
    fitting = _fitting(figure_of("1", 6, *STEPS))
    checkpoints = [_checkpoint(True, True)] * 3 + [_checkpoint(True, False)] * 3
    strays = (ExtraVerdict("extra-note", 1.5, None, 70.0, 1),) * extras
    judgement = Judgement(fitting.brief.figures[0], tuple(checkpoints), strays, {})
    passage = Passage(0, np.array([1.0, 2.0]), np.array([1.0, 2.0]), 0.4, doubtful=True)
    assert fitting.is_found(passage, judgement, alone=False, aside=False) is is_found
