"""The score on a take's clock: where each checkpoint is looked for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from livecheck.lesson.expectation import Checkpoint
from tests.hearing.played import Part

PART = Part.of(
    "{ beat = 1, fret = 3, pick = [5, 6] }",
    '{ beat = "7/4", fret = 5 }',
    "{ beat = 3, pick = [5] }",
    "{ beat = 6, pick = [5] }",
)


def _checkpoint(step: int, string: int) -> Checkpoint:
    return next(c for c in PART.expectation.checkpoints if (c.step, c.string) == (step, string))


@pytest.mark.parametrize(
    ("step", "string", "window"),
    [
        (1, 5, (0.0, 1.0, 1.375)),  # nothing before: one beat; half the gap to the move
        (2, 5, (1.375, 1.75, 2.375)),
        (3, 5, (2.375, 3.0, 4.0)),  # half the gap would be a beat and a half
        (4, 5, (5.0, 6.0, 7.0)),
        (2, 6, (1.375, 1.75, 2.75)),  # string 6 has nothing after its move
    ],
)
def test_a_checkpoint_is_searched_half_way_to_its_string_s_next_and_one_beat_at_most(
    step: int, string: int, window: tuple[float, float, float]
) -> None:
    found = PART.score.window(_checkpoint(step, string))
    assert (found.start_s, found.expected_s, found.stop_s) == pytest.approx(window)
    assert [found.holds(time_s) for time_s in (window[0] - 0.01, window[1], window[2] + 0.01)] == [False, True, False]


def test_windows_scale_with_the_tempo_and_move_with_the_start() -> None:
    score = replace(PART.score, start_s=4.0, beat_s=0.5)
    found = score.window(_checkpoint(2, 5))
    assert (found.start_s, found.expected_s, found.stop_s) == pytest.approx((4.1875, 4.375, 4.6875))


def test_beats_and_seconds_are_one_line() -> None:
    score = replace(PART.score, start_s=2.0, beat_s=0.75)
    beats = np.array([1.0, 2.5, 6.0])
    assert score.beats_at(np.array([score.time_s(beat) for beat in beats])) == pytest.approx(beats)
    assert score.time_s(1.0) == 2.0


def test_where_the_player_was_followed_the_beat_is_the_player_s() -> None:
    late = replace(PART.score, path=(np.array([2.0, 3.0, 4.0]), np.array([2.0, 2.5, 4.0])))
    assert late.beats_at(np.array([1.5, 2.5, 3.0, 3.5, 5.0])) == pytest.approx([1.5, 2.25, 2.5, 3.25, 5.0])


def test_pitches_sound_where_the_take_is_tuned() -> None:
    # String 5 is B3 (59), the bar lies at the third fret.
    assert PART.score.sounding(_checkpoint(1, 5)) == 62.0
    assert replace(PART.score, tuning_cents=-20.0).sounding(_checkpoint(1, 5)) == pytest.approx(61.8)
