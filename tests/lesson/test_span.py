"""When an attempt is over."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.lesson.span import DONE_QUIET_S, Span
from livecheck.sources.library import load_lesson
from tests.cli.call import write_lesson


@pytest.fixture(scope="module")
def span(tmp_path_factory: pytest.TempPathFactory) -> Span:
    """Of figure 1, which is blocked on beat 7 of 8, at 120: it sounds for 3 s, and from beat 5 on nothing is picked."""
    folder = tmp_path_factory.mktemp("lesson")
    write_lesson(folder)
    lesson = load_lesson(str(folder / "lesson.toml"))
    return Span.of(lesson.figures[:1], lesson.copedent, 120.0)


def test_it_is_over_in_the_silence_after_its_last_note(span: Span) -> None:
    assert span.sounding_s == pytest.approx(3.0)
    assert not span.is_over(3.0, 0.0)
    assert span.is_over(3.0 + DONE_QUIET_S, DONE_QUIET_S)
    assert not span.is_over(2.0, 1.0), "silence before its end may be a rest"


def test_it_is_over_when_the_player_breaks_off_or_never_ends(span: Span) -> None:
    assert span.is_over(8.0, 7.5)
    assert span.is_over(span.longest_s, 0.0)


def test_a_knock_is_short_and_followed_by_more_silence_than_is_written(span: Span) -> None:
    assert span.is_knock(0.15, 1.05)
    assert not span.is_knock(0.15, 0.5), "not yet quiet for long"
    assert not span.is_knock(1.0, 1.05), "it rang for a second"
    rests = replace(span, rest_s=1.0)
    assert not rests.is_knock(0.15, 2.2), "a short note and the rest after it, both as written, and slowly"
    assert rests.is_knock(0.15, 2.4)


def test_the_rest_of_a_figure_is_the_longest_time_in_which_nothing_is_to_sound(span: Span, tmp_path: Path) -> None:
    assert span.rest_s == 0.0, "its one silence comes after its last note"
    write_lesson(tmp_path)
    lesson = load_lesson(str(tmp_path / "lesson.toml"))
    both = Span.of(lesson.figures, lesson.copedent, 120.0)
    assert both.rest_s == pytest.approx(1.0), "from beat 7 of figure 1 to figure 2"
    assert both.with_pauses([0.7]).rest_s == pytest.approx(1.7)


@given(st.floats(30.0, 240.0), st.floats(0.75, 1.3))
def test_whoever_plays_it_whole_a_little_slower_or_faster_is_heard_to_the_end(tempo: float, pace: float) -> None:
    folder = Path(__file__).parents[2] / "livecheck" / "demo"
    lesson = load_lesson(str(folder / "lesson.toml"))
    for figure in lesson.figures:
        span = Span.of([figure], lesson.copedent, tempo)
        ends_s = span.sounding_s * pace
        assert not span.is_over(min(ends_s, 0.89 * span.sounding_s), 0.0)
        assert span.longest_s > ends_s
        assert span.is_over(ends_s * 1.2 + 2.0, ends_s * 0.2 + 2.0) or span.sounding_s > ends_s * 1.2


def test_figures_in_a_row_take_as_long_as_all_of_them() -> None:
    folder = Path(__file__).parents[2] / "livecheck" / "demo"
    lesson = load_lesson(str(folder / "lesson.toml"))
    whole = Span.of(lesson.figures, lesson.copedent, lesson.tempo)
    assert whole.sounding_s > sum(float(figure.length) for figure in lesson.figures[:-1]) * lesson.beat_s
