"""Where strays cover what else sounds."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.hearing.curves.track import Track
from livecheck.hearing.heard import CLEAR_SUPPORT
from livecheck.hearing.unasked.carried import FADED_DB, covered

COUNT = 40


def _track(first: int, midi: float, count: int = COUNT, lost: int = COUNT, faded: int = COUNT) -> Track:
    """One that is lost, or has faded, from a frame of its own on."""
    at = np.arange(count)
    db = np.where(at < faded, -20.0, -20.5 - FADED_DB)
    support = np.where(at < lost, CLEAR_SUPPORT + 0.1, CLEAR_SUPPORT - 0.1)
    return Track(first, np.full(count, midi), db, db, db[:, None], support, np.ones(count))


@pytest.mark.parametrize(
    ("stray", "frames"),
    [
        (_track(15, 60.1), range(5, 40)),
        (_track(0, 60.1), range(30)),
        (_track(15, 60.1, lost=10), range(5, 15)),
        (_track(15, 60.1, faded=10), range(5, 15)),
        (_track(15, 62.0), range(0)),
        # One ends where the other begins, and before it does.
        (_track(50, 60.1), range(0)),
        (_track(0, 60.1, count=10), range(0)),
        (_track(0, 60.1, count=2), range(0)),
    ],
)
def test_a_stray_covers_what_sounds_where_it_is_until_it_is_gone(stray: Track, frames: range) -> None:
    assert np.flatnonzero(covered(_track(10, 60.0), [np.full(COUNT, 62.0)], [stray])).tolist() == list(frames)


def test_a_string_on_its_course_was_not_drawn_to_a_stray() -> None:
    """For ten frames it should be elsewhere; the stray, or its track once it has ended, is with it all the time."""
    course = np.where(np.arange(COUNT) < 10, 58.0, 60.2)
    assert np.flatnonzero(covered(_track(10, 60.0), [course], [_track(10, 60.1)])).tolist() == list(range(10))


def test_a_course_may_have_been_drawn_to_a_stray_itself() -> None:
    """The player's way goes with the stray from its start on; the figure's line says that the string is due later."""
    way, line = np.full(COUNT, 60.0), np.where(np.arange(COUNT) < 15, 58.0, 60.0)
    assert np.flatnonzero(covered(_track(10, 60.0), [way, line], [_track(10, 60.1)])).tolist() == list(range(15))


def test_nothing_is_covered_without_strays() -> None:
    assert not covered(_track(10, 60.0), [np.full(COUNT, 62.0)], []).any()
