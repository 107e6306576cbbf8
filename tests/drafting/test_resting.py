"""Where a gliding string comes to rest."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.drafting.line import Rest
from livecheck.drafting.resting import rests_of
from livecheck.hearing.heard import GRID_S


def rests(knots: list[tuple[float, float]], wave_cents: float = 0.0) -> list[Rest]:
    times_s, midis = zip(*knots, strict=True)
    grid_s = np.arange(times_s[0], times_s[-1], GRID_S)
    curve = np.interp(grid_s, times_s, midis) + wave_cents / 100.0 * np.sin(2.0 * np.pi * 5.5 * grid_s)
    return rests_of(grid_s, curve, times_s[0], 0.0)


def test_a_held_note_rests_where_it_was_picked() -> None:
    (rest,) = rests([(1.0, 64.0), (2.0, 64.0)])
    assert (rest.midi, rest.arrived_s, rest.over_s) == (64.0, 1.0, 0.0)


def test_a_slide_through_many_semitones_is_one_move() -> None:
    first, last = rests([(0.0, 60.0), (0.5, 60.0), (1.1, 67.0), (2.0, 67.0)])
    assert last.midi == pytest.approx(67.0, abs=0.02)
    assert last.arrived_s == pytest.approx(1.1, abs=0.01)
    assert last.over_s == pytest.approx(0.6, abs=0.02)
    assert first.midi == 60.0


def test_a_rest_between_two_slides_the_same_way_is_heard() -> None:
    found = rests([(0.0, 60.0), (0.4, 60.0), (0.6, 62.0), (0.9, 62.0), (1.1, 65.0), (1.6, 65.0)])
    assert [round(rest.midi) for rest in found] == [60, 62, 65]


def test_a_rest_after_a_slow_slide_is_heard_where_it_is() -> None:
    """The slide and the rest are one stair, tempered as it is."""
    knots = [(0.0, 68.0), (0.7, 68.0), (0.84, 72.0), (1.3, 72.0), (1.9, 67.2), (2.3, 67.2), (2.4, 72.0), (2.8, 72.0)]
    found = rests(knots)
    assert [rest.midi for rest in found] == pytest.approx([68.0, 72.0, 67.2, 72.0], abs=0.06)
    assert [rest.arrived_s for rest in found[1:]] == pytest.approx([0.84, 1.9, 2.4], abs=0.03)


def test_vibrato_is_no_move_and_is_told() -> None:
    (rest,) = rests([(0.0, 64.0), (2.0, 64.0)], wave_cents=25.0)
    assert rest.vibrato
    assert rest.midi == pytest.approx(64.0, abs=0.05)


@given(st.lists(st.integers(-4, 4).filter(lambda by: by != 0), min_size=1, max_size=3))
def test_every_held_pitch_of_straight_glides_is_found(moves: list[int]) -> None:
    at_s, midi, knots = 0.0, 62.0, [(0.0, 62.0)]
    for by in moves:
        knots += [(at_s + 0.4, midi), (at_s + 0.6, midi + by)]
        at_s, midi = at_s + 0.6, midi + by
    knots.append((at_s + 0.4, midi))
    wanted = [62.0 + sum(moves[:count]) for count in range(len(moves) + 1)]
    found = rests(knots)
    assert [rest.midi for rest in found] == pytest.approx(wanted, abs=0.05)
    assert [rest.arrived_s for rest in found[1:]] == pytest.approx([0.6 * (i + 1) for i in range(len(moves))], abs=0.02)


@pytest.mark.parametrize("by", [0.5, -0.5])
def test_a_half_pedal_is_a_move(by: float) -> None:
    first, last = rests([(0.0, 64.0), (0.8, 64.0), (1.1, 64.0 + by), (2.0, 64.0 + by)])
    assert (first.midi, last.midi) == pytest.approx((64.0, 64.0 + by), abs=0.03)
    assert last.arrived_s == pytest.approx(1.1, abs=0.03)


def test_a_pitch_held_near_the_end_of_a_long_way_is_held() -> None:
    found = rests([(0.0, 70.0), (0.9, 70.0), (1.1, 65.0), (2.8, 65.0), (3.2, 64.0), (4.5, 64.0)])
    assert [rest.midi for rest in found] == pytest.approx([70.0, 65.0, 64.0], abs=0.05)


def test_a_slow_move_with_vibrato_arrives_where_its_centre_does() -> None:
    for late_s in (0.0, 0.03, 0.06, 0.09, 0.12):
        knots = [(0.0, 80.0), (1.0 + late_s, 80.0), (1.6 + late_s, 79.0), (2.6, 79.0)]
        _, last = rests(knots, wave_cents=12.0)
        assert last.arrived_s == pytest.approx(1.6 + late_s, abs=0.05)


@pytest.mark.parametrize("wave_cents", [0.0, 10.0, 18.0])
def test_vibrato_makes_no_landing_of_a_slide(wave_cents: float) -> None:
    """At its pace the slide stands still where the vibrato goes the other way."""
    found = rests([(0.0, 65.0), (0.6, 65.0), (1.3, 69.0), (2.2, 69.0)], wave_cents)
    assert [round(rest.midi) for rest in found] == [65, 69]
    assert found[1].arrived_s == pytest.approx(1.3, abs=0.06)


@pytest.mark.parametrize("over_s", [0.1, 0.3, 0.6])
def test_half_a_semitone_is_timed_to_its_end_however_slow_it_is(over_s: float) -> None:
    _, last = rests([(0.0, 57.0), (1.0, 57.0), (1.0 + over_s, 56.5), (2.6, 56.5)])
    assert (last.midi, last.arrived_s) == pytest.approx((56.5, 1.0 + over_s), abs=0.03)
