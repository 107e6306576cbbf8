"""A heard note's curve: linear between its points, nothing outside its life."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from livecheck.hearing.heard import GRID_S, HeardNote


def _note(times_s: list[float], midis: list[float], start_s: float = 1.0, end_s: float = 2.0) -> HeardNote:
    return HeardNote(5, start_s, end_s, np.array(times_s), np.array(midis))


GLIDE = _note([1.1, 1.5, 1.9], [60.0, 60.0, 62.0])


def test_the_curve_is_linear_between_points_and_level_beyond_them() -> None:
    times, midis = GLIDE.curve(0.0, 9.0)
    assert times[[0, -1]] == pytest.approx([1.0, 2.0])
    assert np.diff(times) == pytest.approx(GRID_S)
    assert midis == pytest.approx(60.0 + 5.0 * np.clip(times - 1.5, 0.0, 0.4))


def test_what_was_not_heard_is_bridged() -> None:
    gap = _note([1.1, 1.3, 1.5, 1.9], [60.0, np.nan, 60.0, 62.0])
    assert np.array_equal(gap.curve(1.0, 2.0)[1], GLIDE.curve(1.0, 2.0)[1])


@pytest.mark.parametrize(("start_s", "stop_s", "median"), [(1.0, 1.4, 60.0), (1.5, 1.9, 61.0), (1.95, 9.0, 62.0)])
def test_the_middle_pitch_of_a_stretch(start_s: float, stop_s: float, median: float) -> None:
    assert GLIDE.median_midi(start_s, stop_s) == pytest.approx(median)


@pytest.mark.parametrize(("made_out_s", "from_s"), [(1.1, 1.0), (1.5, 1.5)])
def test_what_was_made_out_long_after_the_start_tells_nothing_of_the_start(made_out_s: float, from_s: float) -> None:
    """The bar may have taken it there meanwhile."""
    note = replace(_note([made_out_s, 1.9], [62.0, 62.0]), supports=np.ones(2))
    assert note.curve(1.0, 2.0)[0][0] == pytest.approx(from_s)
    assert (note.median_midi(1.0, 1.3) is None) == (made_out_s == from_s)


@pytest.mark.parametrize(("made_out_s", "until_s"), [(1.7, 1.8), (1.5, 1.5)])
def test_what_was_made_out_long_before_it_was_lost_tells_nothing_of_its_end(made_out_s: float, until_s: float) -> None:
    """What comes last may be noise already, and stands for nothing that follows."""
    note = replace(_note([1.1, made_out_s], [62.0, 62.0]), supports=np.ones(2))
    faded = replace(note, faded_s=1.8)
    assert faded.curve(1.0, 2.0)[0][-1] == pytest.approx(until_s)
    assert note.curve(1.0, 2.0)[0][-1] == pytest.approx(2.0)


def test_how_much_of_a_stretch_was_heard() -> None:
    """Frames a tenth of a second apart, of which three in a row were not heard."""
    times_s = np.array([1.05, 1.15, 1.25, 1.35, 1.75, 1.85, 1.95])
    note = HeardNote(5, 1.0, 2.0, times_s, np.full(7, 60.0), supports=np.ones(7))
    assert [note.share(*span) for span in ((1.0, 1.4), (1.4, 1.7), (1.3, 1.9))] == pytest.approx([1.0, 0.0, 0.5])
    assert note.share(2.0, 3.0) == 0.0
    assert replace(note, supports=np.full(7, 0.1)).share(1.0, 2.0) == 0.0
    assert GLIDE.share(1.2, 1.4) == 1.0  # the source says itself what was played


def test_there_is_no_pitch_where_it_was_lost_in_the_noise() -> None:
    faded = replace(GLIDE, faded_s=1.7)
    assert faded.heard_until_s == 1.7
    assert faded.curve(1.0, 2.0)[0][-1] == pytest.approx(1.7)
    assert faded.median_midi(1.8, 2.0) is None
    assert replace(GLIDE, faded_s=2.5).heard_until_s == GLIDE.heard_until_s == 2.0


def test_there_is_no_pitch_where_nothing_was_heard() -> None:
    assert GLIDE.median_midi(2.1, 3.0) is None
    assert GLIDE.median_midi(0.1, 0.9) is None
    assert _note([1.1, 1.5], [np.nan, np.nan]).median_midi(1.0, 2.0) is None
    assert len(_note([], []).curve(1.0, 2.0)[0]) == 0
