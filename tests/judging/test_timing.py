"""Lines from beats to seconds: robust against what was late, exact where nothing was."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.judging.timing import Event, Line, fit_click, fit_free, rival_of


def _events(start_s: float, beat_s: float, beats: list[float], off_s: dict[float, float] | None = None) -> list[Event]:
    return [Event(b, start_s + (b - 1) * beat_s + (off_s or {}).get(b, 0.0)) for b in beats]


def test_clean_events_give_their_line() -> None:
    lines = fit_free([_events(1.0, 0.6, [1, 2, 4]), _events(7.3, 0.6, [1, 3, 5, 6])], 0.5)
    assert [line.start_s for line in lines] == pytest.approx([1.0, 7.3], abs=1e-9)
    assert [line.beat_s for line in lines] == pytest.approx([0.6, 0.6], abs=1e-9)


def test_one_late_event_in_five_moves_nothing() -> None:
    figures = [_events(1.0, 0.6, [1, 2, 3, 4, 5], {4: 0.2}), _events(7.0, 0.6, [1, 2, 3, 4, 5])]
    lines = fit_free(figures, 0.5)
    assert lines[0].start_s == pytest.approx(1.0, abs=0.005)
    assert lines[0].beat_s == pytest.approx(0.6, abs=0.002)


def test_a_figure_of_two_events_takes_the_take_s_tempo() -> None:
    figures = [_events(1.0, 0.6, [1, 3], {3: 0.25}), _events(7.0, 0.6, [1, 2, 3, 5]), _events(12.0, 0.6, [1, 2, 4, 5])]
    line = fit_free(figures, 0.5)[0]
    assert line.beat_s == pytest.approx(0.6, abs=0.002)
    assert line.start_s == pytest.approx(1.0, abs=0.005)


def test_figures_that_seem_three_times_as_fast_do_not_count_against_one_that_does_not() -> None:
    """The way through figures that have faded hurries from pick to pick."""
    hurried = [_events(at_s, 0.17, [1, 2, 4, 5]) for at_s in (1.0, 7.0)]
    assert fit_free([*hurried, _events(12.0, 0.6, [1, 2, 4, 5])], 0.5)[2].beat_s == pytest.approx(0.6, abs=0.002)


def test_a_line_holds_though_more_than_half_of_what_was_seen_is_something_else() -> None:
    """One figure as it was, one taken for another, one begun a step too late: a median finds no tempo among them."""
    right = [Event(b, t) for b, t in ((1.0, 1.65), (3.0, 2.96), (4.0, 3.90), (5.5, 5.02), (6.5, 5.76))]
    mistaken = [Event(b, t) for b, t in ((1.0, 7.65), (3.0, 8.88), (4.0, 9.51), (5.5, 10.14), (6.5, 10.90))]
    shifted = [Event(b, t) for b, t in ((1.0, 10.94), (2.0, 11.34), (3.5, 12.46))]
    line = fit_free([right, mistaken, shifted], 0.61)[0]
    assert line.beat_s == pytest.approx(0.748, abs=0.01)
    assert line.start_s == pytest.approx(1.65, abs=0.02)


def test_a_figure_lies_where_most_of_it_agrees_not_in_the_middle_of_its_mistakes() -> None:
    """Its first two picks are late and it ends too soon: half way lies nothing."""
    others = [_events(7.0, 0.6, [1, 2, 3, 5]), _events(12.0, 0.6, [1, 3, 4])]
    astray = _events(1.0, 0.6, [1, 2, 3, 4, 5], {1.0: 0.21, 2.0: 0.13, 5.0: -0.12})
    assert fit_free([astray, *others], 0.5)[0].start_s == pytest.approx(1.0, abs=0.005)
    late = _events(1.0, 0.6, [1, 2, 3, 4], {1.0: 0.3, 2.0: 0.2})
    assert fit_free([late, *others], 0.5)[0].start_s == pytest.approx(1.0, abs=0.005)


def test_of_little_evidence_the_tempo_nearer_to_the_written_one_is_believed() -> None:
    assert fit_free([_events(1.0, 0.28, [1, 3]), _events(7.0, 0.45, [1, 3])], 0.5)[0].beat_s == pytest.approx(0.45)


def test_a_take_at_a_third_of_the_written_tempo_is_believed() -> None:
    figures = [_events(1.0, 1.5, [1, 2, 4, 5]), _events(12.0, 1.5, [1, 2, 3, 5], {2: -0.6})]
    assert fit_free(figures, 0.5)[0].beat_s == pytest.approx(1.5, abs=0.005)


def test_a_long_figure_may_take_its_own_tempo_within_limits() -> None:
    beats = [1.0, 2, 3, 4, 5, 6, 7]
    lines = fit_free([_events(1.0, 0.6, beats), _events(7.0, 0.6, beats), _events(13.0, 0.6 * 1.05, beats)], 0.5)
    assert lines[2].beat_s == pytest.approx(0.63, abs=0.003)
    assert lines[0].beat_s == pytest.approx(0.6, abs=0.003)


def test_no_figure_takes_a_tempo_that_makes_one_pick_right_and_another_wrong() -> None:
    """Its last pick is early by 200 ms: a faster tempo has that in time, and the pick before it late."""
    others = [_events(8.0, 0.5914, [1, 2, 3, 5, 6]), _events(13.0, 0.5914, [1, 3, 4, 5])]
    heard = ((1.0, 1.0, 1.0), (2.5, 1.839, 0.6), (4.5, 3.006, 0.5), (6.5, 4.247, 1.0), (8.5, 5.237, 1.0))
    early = [Event(beat, time_s, weight) for beat, time_s, weight in heard]
    assert fit_free([early, *others], 0.5)[0].beat_s == pytest.approx(0.5914, abs=0.003)


def test_a_click_has_one_grid() -> None:
    jitter = np.random.default_rng(0).normal(0, 0.01, 3)
    figures = [_events(s + float(j), 0.5, [1, 2, 3]) for s, j in zip([1.02, 5.02, 9.52], jitter, strict=True)]
    lines = fit_click(figures, 0.5, None)
    starts = [line.start_s for line in lines]
    assert np.diff(starts) == pytest.approx([4.0, 4.5], abs=1e-9)
    assert starts[0] == pytest.approx(1.02, abs=0.012)
    assert fit_click(figures, 0.5, 0.02)[0].start_s == pytest.approx(1.02)


def test_a_line_has_a_rival_where_nearly_as_much_agrees() -> None:
    line = Line(1.0, 0.6)
    apart = _events(1.0, 0.6, [1, 2, 3, 4, 5], {3.0: 0.2, 4.0: 0.2})
    rival = rival_of(apart, line)
    assert rival is not None
    assert (rival.start_s, rival.beat_s) == pytest.approx((1.2, 0.6))
    assert rival_of(_events(1.0, 0.6, [1, 2, 3, 4, 5], {3.0: 0.2}), line) is None
    assert rival_of(_events(1.0, 0.6, [1, 2, 3, 4, 5], {3.0: 0.07, 4.0: 0.07}), line) is None
