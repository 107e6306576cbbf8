"""Picks, rolls, moves and silences from what each string did."""

from __future__ import annotations

from livecheck.drafting.happening import happenings
from livecheck.drafting.line import Line, Rest


def line(start_s: float, end_s: float, midi: float = 64.0, *rests: Rest) -> Line:
    return Line(start_s, end_s, (Rest(midi, start_s), *rests))


def test_strings_struck_at_once_are_one_pick() -> None:
    pick, silence = happenings([line(1.0, 2.0, 64.0), line(1.02, 2.0, 68.0)])
    assert (pick.time_s, pick.picked, pick.roll_s) == (1.0, (0, 1), 0.0)
    assert silence.silenced == (0, 1)


def test_strings_struck_evenly_one_after_the_other_are_a_roll() -> None:
    pick, _ = happenings([line(1.0, 3.0, 64.0), line(1.1, 3.0, 68.0), line(1.2, 3.0, 71.0)])
    assert pick.picked == (0, 1, 2)
    assert round(pick.roll_s, 3) == 0.1


def test_a_run_of_single_notes_is_no_roll() -> None:
    found = happenings([line(1.0, 1.12, 64.0), line(1.13, 1.25, 66.0), line(1.26, 2.0, 68.0)])
    assert [one.picked for one in found if one.picked] == [(0,), (1,), (2,)]


def test_a_pick_silences_what_ends_with_it_and_only_the_rest_is_a_silence_of_its_own() -> None:
    found = happenings([line(1.0, 1.97), line(2.0, 2.6), line(4.0, 5.0)])
    assert [one.silenced for one in found if one.silenced] == [(1,), (2,)]


def test_strings_that_arrive_together_are_one_move() -> None:
    found = happenings([line(1.0, 3.0, 64.0, Rest(66.0, 2.0, 0.3)), line(1.0, 3.0, 68.0, Rest(70.0, 2.03, 0.3))])
    (move,) = [one for one in found if one.moved]
    assert [index for index, _ in move.moved] == [0, 1]
    assert move.over_s == 0.3


def test_a_short_move_within_a_longer_one_is_the_same_move() -> None:
    """What was heard of one string may be but a part of its way; the bar takes both."""
    found = happenings([line(1.0, 3.0, 64.0, Rest(66.0, 2.0, 0.3)), line(1.0, 3.0, 68.0, Rest(70.0, 1.88, 0.02))])
    (move,) = [one for one in found if one.moved]
    assert {index for index, _ in move.moved} == {0, 1}
    assert move.time_s == 2.0


def test_moves_after_each_other_are_two() -> None:
    found = happenings([line(1.0, 3.0, 64.0, Rest(66.0, 2.0, 0.3)), line(1.0, 3.0, 68.0, Rest(70.0, 1.6, 0.3))])
    assert [[index for index, _ in one.moved] for one in found if one.moved] == [[1], [0]]
