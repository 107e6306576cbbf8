"""Tracks that have changed strings."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.drafting.crossing import uncrossed
from livecheck.hearing.curves.track import REFINE_PARTIALS, Track

FRAMES = 60


def track(midis: NDArray[np.float64], db: float) -> Track:
    partials_db = np.full((FRAMES, REFINE_PARTIALS), db)
    return Track(0, midis, np.full(FRAMES, db), np.full(FRAMES, db), partials_db, np.ones(FRAMES), np.ones(FRAMES))


def way(*knots: tuple[int, float]) -> NDArray[np.float64]:
    at, midis = zip(*knots, strict=True)
    return np.asarray(np.interp(np.arange(FRAMES), at, midis))


def test_each_string_keeps_its_own_part_where_two_tracks_change_places() -> None:
    """One goes down three semitones, the other two; they were found to pass each other by."""
    low, high = way((20, 62.0), (26, 59.0)), way((20, 65.0), (26, 63.0))
    late = np.arange(FRAMES) >= 24
    mixed = track(np.where(late, high, low), -30.0), track(np.where(late, low, high), -40.0)
    one, other = uncrossed(mixed, [62.0, 65.0])
    settled = slice(27, None)
    assert np.allclose(one.midis[settled], 59.0)
    assert np.allclose(other.midis[settled], 63.0)
    assert np.allclose(one.db[settled], -40.0), "all that a track says goes with it"
    assert np.allclose(one.midis[:20], 62.0)
    assert np.allclose(other.midis[:20], 65.0)


def test_strings_that_pedals_take_past_each_other_are_left_alone() -> None:
    tracks = [track(way((20, 64.0), (30, 66.0)), -30.0), track(way((0, 65.0)), -30.0)]
    one, other = uncrossed(tracks, [64.0, 65.0])
    assert np.array_equal(one.midis, tracks[0].midis)
    assert np.array_equal(other.midis, tracks[1].midis)


def test_parallel_strings_are_left_alone() -> None:
    tracks = [track(way((10, 60.0), (40, 72.0)), -30.0), track(way((10, 67.0), (40, 79.0)), -30.0)]
    assert [one.midis.tolist() for one in uncrossed(tracks, [60.0, 67.0])] == [one.midis.tolist() for one in tracks]
