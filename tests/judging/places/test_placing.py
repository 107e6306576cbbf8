"""A figure is laid where its picks are seen. What can be seen is made up here, at exact times."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.listening import Glimpse
from livecheck.hearing.score import TimedScore
from livecheck.hearing.sound.ear import Glance
from livecheck.hearing.sound.salience import HOP_S
from livecheck.judging.brief import Brief
from livecheck.judging.places.fitting import Fitting
from livecheck.judging.places.passage import Passage
from livecheck.judging.places.placing import Place, Placing
from livecheck.judging.timing import Line
from livecheck.judging.verdicts.judge import Judge
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import load_copedent, load_tolerances
from tests.judging.midi_player import figure_of, lesson_of

STEPS = [f"beat = {beat}, fret = {3 + beat}, pick = [5]" for beat in range(1, 7)]
NEAR_S = 0.4


@dataclass
class _Sound:
    """Picks of certain steps that are seen only if they are looked for where they are."""

    seen_s: dict[int, float] | None
    """Step -> seconds; None where nothing can be seen."""
    source: Literal["audio", "midi"] = "audio"
    blur_s: float = 0.0
    echoes: bool = False

    def glances(self, *_: object) -> Iterator[Glance]:
        return iter(())

    def hear(self, *_: object) -> list[HeardNote]:
        return []

    def glimpse(self, score: TimedScore, from_s: float, until_s: float) -> list[Glimpse] | None:
        if self.seen_s is None:
            return None
        picks = [note.checkpoints[0] for note in score.expectation.notes]
        return [
            Glimpse(pick, self.seen_s[pick.step], 0.0)
            for pick in picks
            if pick.step in self.seen_s
            and from_s <= self.seen_s[pick.step] < until_s
            and abs(self.seen_s[pick.step] - score.time_s(pick.beat)) < NEAR_S
        ]


class _StruckTwice(_Sound):
    """A string that is struck, struck again while it rings and slides up two frets soon after that."""

    def hear(self, *asked: object) -> list[HeardNote]:
        _, from_s, _ = asked
        assert isinstance(from_s, float)
        times_s = np.arange(10.0 if from_s <= 10.0 else 11.5, 14.0, 0.005)
        return [HeardNote(5, times_s[0], times_s[-1], times_s, np.interp(times_s, [11.75, 12.0], [62.0, 64.0]))]

    def glimpse(self, score: TimedScore, from_s: float, until_s: float) -> list[Glimpse]:
        (pick,) = (note.checkpoints[0] for note in score.expectation.notes)
        seen_s = [time_s for time_s in (10.0, 11.5) if from_s <= time_s < until_s]
        return [Glimpse(pick, at_s, 0.0) for at_s in seen_s if abs(at_s - score.time_s(pick.beat)) < NEAR_S]


def _placed(
    seen_s: dict[int, float] | None,
    starts_s: Sequence[float],
    index: int = 0,
    steps: Sequence[str] = STEPS,
) -> Place:
    """Where a figure is laid, of some that are thought to begin at certain times, a beat a second."""
    placing, places = _laid(seen_s, starts_s, steps)
    return placing.placed([place.passage for place in places], [place.line for place in places], index)


def _laid(
    seen_s: dict[int, float] | None,
    starts_s: Sequence[float],
    steps: Sequence[str] = STEPS,
    broken_s: float = np.inf,
) -> tuple[Placing, list[Place]]:
    """Attempts at a figure where they are thought to begin, with what is seen of each there. The player's way through
    the first one ends at a given time."""
    lesson = read_lesson(lesson_of(figure_of("1", 7, *steps)), "lesson.toml", load_copedent)
    fitting = Fitting(Brief(lesson, lesson.figures, load_tolerances("standard")))
    beats = np.arange(1.0, 8.0, HOP_S)
    passages = [Passage(0, start_s + beats - 1.0, beats, 0.9) for start_s in starts_s]
    went = passages[0].times_s <= broken_s
    passages[0] = replace(passages[0], times_s=passages[0].times_s[went], beats=passages[0].beats[went])
    lines = [Line(start_s, 1.0) for start_s in starts_s]
    placing = Placing(fitting, _Sound(seen_s), 0.0, Judge(lesson.copedent, fitting.brief.tolerances, 0.0))
    return placing, [placing.seen(passages, lines, index) for index in range(len(passages))]


@pytest.mark.parametrize("off_s", [1.0, -1.0])
def test_a_figure_a_step_off_is_laid_where_its_picks_are_seen(off_s: float) -> None:
    place = _placed({step: 9.0 + step for step in range(1, 7)}, [10.0 + off_s])
    assert place.line.start_s == pytest.approx(10.0)
    assert place.count == 6


def test_a_figure_whose_picks_are_seen_stays() -> None:
    """One of six missing is nothing to look for elsewhere."""
    seen_s = {step: 9.0 + step for step in range(1, 6)}
    place = _placed(seen_s, [10.0])
    assert (place.line.start_s, place.count) == (10.0, 5)


def test_a_figure_of_which_no_more_is_seen_elsewhere_stays() -> None:
    place = _placed({1: 10.0, 2: 11.0}, [10.0])
    assert (place.line.start_s, place.count) == (10.0, 2)


def test_strings_that_are_faded_in_are_not_looked_for_elsewhere() -> None:
    """They have no attacks: what is seen elsewhere is something else."""
    faded = [f"{step}, swell = true" for step in STEPS]
    assert _placed({1: 11.0}, [10.0]).line.start_s == 11.0
    assert _placed({1: 11.0}, [10.0], steps=faded).line.start_s == 10.0


def test_where_nothing_can_be_seen_nothing_is_moved() -> None:
    place = _placed(None, [10.0])
    assert (place.line.start_s, place.seen) == (10.0, None)


def test_a_figure_is_not_laid_over_its_neighbour() -> None:
    """Its picks would be seen a step earlier, where the one before it is still to be played."""
    place = _placed({step: 15.5 + step for step in range(1, 7)}, [10.5, 17.5], index=1)
    assert place.line.start_s == pytest.approx(16.5)
    place = _placed({step: 14.0 + step for step in range(1, 7)}, [10.0, 16.0], index=1)
    assert place.line.start_s == 16.0


@pytest.mark.parametrize(("thought_s", "broken_s"), [(10.3, 9.9), (11.0, 9.9), (11.0, np.inf)])
def test_an_attempt_begins_before_the_one_that_was_broken_off_would_have_ended(
    thought_s: float, broken_s: float
) -> None:
    """Of its three picks the first is not seen while it is thought to belong to the attempt before."""
    seen_s = {step: 9.0 + step for step in range(1, 4)}
    placing, places = _laid(seen_s, [8.6, thought_s], STEPS[:3], broken_s)
    place = placing.placed([place.passage for place in places], [place.line for place in places], 1)
    assert place.line.start_s == pytest.approx(10.0 if np.isfinite(broken_s) else thought_s)


def test_a_figure_with_one_pick_may_begin_where_its_way_does() -> None:
    """A stray at its pitch, struck while it rings, is seen as clearly as its pick."""
    steps = ("beat = 1, fret = 3, pick = [5]", "beat = 3, fret = 5, over = 0.25")
    lesson = read_lesson(lesson_of(figure_of("1", 4, *steps)), "lesson.toml", load_copedent)
    fitting = Fitting(Brief(lesson, lesson.figures, load_tolerances("standard")))
    beats = np.arange(1.0, 5.0, HOP_S)
    passage = Passage(0, 9.0 + beats, beats, 0.9, doubtful=True)
    placing = Placing(fitting, _StruckTwice(None), 0.0, Judge(lesson.copedent, fitting.brief.tolerances, 0.0))
    assert placing.placed([passage], [Line(11.5, 1.0)], 0).line.start_s == pytest.approx(10.0)


def test_two_passages_may_be_one_attempt() -> None:
    """The way went through a figure too fast and took the rest of it for another attempt."""
    placing, places = _laid({step: 9.0 + step for step in range(1, 7)}, [9.0, 13.5])
    (place,) = placing.all_placed(places)
    assert place.line.start_s == pytest.approx(10.0)
    assert place.count == 6


def test_what_comes_after_two_passages_that_are_one_is_placed_as_well() -> None:
    seen_s = {1: 10.0, 2: 11.0, 3: 12.0, 4: 13.0, 5: 35.0, 6: 36.0}
    placing, places = _laid(seen_s, [5.5, 9.0, 30.0])
    assert [(place.line.start_s, place.count) for place in placing.all_placed(places)] == [(10.0, 4), (31.0, 2)]


def test_an_attempt_of_which_little_is_seen_stays_beside_another() -> None:
    placing, places = _laid({1: 10.0, 2: 11.0}, [10.0, 18.0])
    assert [place.line.start_s for place in placing.all_placed(places)] == [10.0, 18.0]


def test_a_part_of_the_way_can_be_taken() -> None:
    """The line found at the end may be shorter than the one by which the figure was laid."""
    times_s = _placed({step: 9.0 + step for step in range(1, 7)}, [11.0]).passage.times_s
    assert (times_s[0], times_s[-1]) == (pytest.approx(10.0), pytest.approx(17.0))
    assert np.diff(times_s).max() <= HOP_S + 1e-9
