"""The playing of least movement, against every playing there is."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.lesson.figure import Bar
from livecheck.neck.neck import Neck
from livecheck.neck.passage import MISFIT_FRETS, Choice, Voice, held_when_needed, play_passage
from livecheck.neck.position import Position, movement_frets
from livecheck.neck.reach import Hold
from tests.neck.instruments import E9, JUST, SMALL, TINY

NECK = Neck(SMALL)
SMALLEST = Neck(TINY)


def length(path: Sequence[Position], start: Position | None) -> float:
    moved = sum(movement_frets(a, b) for a, b in pairwise([*([start] if start else []), *path]))
    return moved + sum(SMALLEST.effort(position) for position in path)


def reachable(one: Position, other: Position, voices: Sequence[Voice]) -> bool:
    """Whether the notes that continue stay on their strings, which the bar neither leaves nor comes upon."""
    carried = [(i, v.continues) for i, v in enumerate(voices) if v.continues is not None]
    stays = all(one.strings[there] == other.strings[here] for here, there in carried)
    return stays and (not carried or one.is_open == other.is_open)


def positions(choices: Sequence[Choice]) -> list[Position]:
    found = [choice.position for choice in choices if choice.position is not None]
    assert len(found) == len(choices)
    return found


@st.composite
def passages(draw: st.DrawFn) -> list[tuple[Voice, ...]]:
    """Steps that the smallest instrument can play, with notes of the step before that go on."""
    steps: list[tuple[Voice, ...]] = []
    before: tuple[float, ...] = ()
    for _ in range(draw(st.integers(1, 3))):
        hold = draw(st.sampled_from(SMALLEST.holds))
        fret = draw(st.integers(0, 6))
        strings = draw(st.lists(st.integers(1, 3), min_size=1, max_size=2, unique=True))
        midis = [SMALLEST.open_midis(hold)[string] + fret for string in strings]
        on = [draw(st.booleans()) and i < len(before) for i in range(len(midis))]
        steps.append(tuple(Voice(m, i if on[i] else None) for i, m in enumerate(midis)))
        before = tuple(midis)
    return steps


@settings(max_examples=60, deadline=None)
@given(passages(), st.none() | st.just(Position((1, 2), Bar.straight(5.0), Hold.full("A"))))
def test_nothing_moves_less(steps: list[tuple[Voice, ...]], start: Position | None) -> None:
    everything = [list(SMALLEST.all_positions([voice.midi for voice in voices])) for voices in steps]
    whole = [
        path for path in product(*everything)
        if all(reachable(a, b, voices) for (a, b), voices in zip(pairwise(path), steps[1:], strict=True))
    ]  # fmt: skip
    choices = play_passage(SMALLEST, steps, start, most=2)
    if not whole:
        assert any(choice.broken for choice in choices)
        return
    assert not any(choice.broken for choice in choices)
    least = min(length(path, start) for path in whole)
    assert length(positions(choices), start) == pytest.approx(least)
    for number, choice in enumerate(choices):
        for other in choice.alternatives:
            through = min(length(path, start) for path in whole if path[number] == other.position)
            assert other.extra_frets == pytest.approx(through - least)


def test_two_pedals_squeezed_under_one_pick() -> None:
    """A and B take the third and the fifth up (common practice, no source)."""
    steps = [(Voice(62.0), Voice(59.0)), (Voice(64.0, 0), Voice(60.0, 1)), (Voice(62.0, 0), Voice(59.0, 1))]
    first, pressed, released = positions(play_passage(Neck(E9), steps))
    assert (first.strings, first.bar.fret_at(5), first.hold.names) == ((5, 6), 3.0, ())
    assert (pressed.bar, pressed.hold.names) == (first.bar, ("A", "B"))
    assert released == first


def test_a_slide_of_all_strings() -> None:
    steps = [(Voice(62.0), Voice(59.0)), (Voice(67.0, 0), Voice(64.0, 1))]
    start = Position((5, 6), Bar.straight(3.0))
    here, there = positions(play_passage(Neck(E9), steps, start))
    assert (here, there) == (start, Position((5, 6), Bar.straight(8.0)))


def test_a_pedal_stays_down_where_no_string_feels_it() -> None:
    """C sharp, E, C sharp at one fret: A is not let go for the string that it does not pull."""
    steps = [(Voice(64.0),), (Voice(59.0),), (Voice(64.0),)]
    played = positions(play_passage(NECK, steps, Position((3,), Bar.straight(3.0), Hold.full("A"))))
    assert [p.hold.names for p in played] == [("A",), ("A",), ("A",)]
    assert {p.bar.fret_at(1) for p in played} == {3.0}


def test_the_bar_is_not_laid_on_a_ringing_string() -> None:
    (_, moved) = play_passage(NECK, [(Voice(56.0),), (Voice(58.0, 0),)])
    assert moved.broken == (0,), "string 4 is at its lowest, and B gives one semitone"


def test_what_cannot_be_played_is_left_out_and_told() -> None:
    before, no, after = play_passage(NECK, [(Voice(60.0),), (Voice(20.0, 0),), (Voice(61.0, 0),)])
    assert no == Choice(None)
    assert before.position is not None
    assert after.position is not None
    assert after.broken == (0,)
    assert play_passage(NECK, [(Voice(20.0),)]) == (Choice(None),)
    assert play_passage(NECK, []) == ()


def test_a_voice_that_continues_none() -> None:
    with pytest.raises(ValueError, match="continues voice 1 of a step that has 1"):
        play_passage(NECK, [(Voice(60.0),), (Voice(60.0, continues=1),)])


def test_alternatives_are_told_apart_by_what_is_heard_of_them() -> None:
    (choice,) = play_passage(Neck(E9), [(Voice(64.0),)], most=10)
    assert choice.position is not None
    ways = [choice.position, *(other.position for other in choice.alternatives)]
    assert len({(way.strings, way.bar, way.midis(E9)) for way in ways}) == len(ways) == 11
    extras = [other.extra_frets for other in choice.alternatives]
    assert extras == sorted(extras)
    assert extras[0] >= 0.0


def test_of_equal_movements_the_one_nearest_in_tune() -> None:
    """The third of the just instrument is flat: heard so, it is the third of a chord and no other string."""
    flat = 68.0 - 0.1369
    assert MISFIT_FRETS > 0
    (choice,) = play_passage(Neck(JUST), [(Voice(flat),)], Position((3,), Bar.straight(0.0)))
    assert choice.position == Position((3,), Bar.straight(0.0))


def test_a_pedal_is_written_down_where_it_is_needed() -> None:
    """The string that is picked first does not feel A; it is no movement to have it down already, but odd to read."""
    steps = [(Voice(64.0),), (Voice(61.0),), (Voice(64.0),)]
    played = positions(play_passage(NECK, steps, Position((3,), Bar.straight(0.0), Hold.full("A"))))
    assert [p.hold.names for p in played] == [("A",), ("A",), ("A",)]
    assert [p.hold.names for p in held_when_needed(NECK, played)] == [(), ("A",), ()]
    assert [p.strings for p in held_when_needed(NECK, played)] == [p.strings for p in played]
    assert held_when_needed(NECK, []) == ()


def test_a_voice_that_is_known_to_be_on_a_string_is_played_there() -> None:
    """E4 on every string that reaches it."""
    for string in (4, 5, 6, 8, 10):
        (choice,) = play_passage(Neck(E9), [(Voice(64.0, string=string),)])
        assert choice.position is not None
        assert choice.position.strings == (string,)


@pytest.mark.parametrize(("midi", "half"), [(72.56, True), (72.8, False)])
def test_a_pitch_nearer_to_a_half_pedal_is_played_with_one(midi: float, half: bool) -> None:
    """The lever of `{4,8: +1}` half in, on string 4 at fret 8. A fifth of a semitone off is how one is tuned."""
    steps = [[Voice(58.0), Voice(73.0)], [Voice(58.0), Voice(midi)], [Voice(58.0), Voice(73.0)]]
    position = play_passage(Neck(E9, halves=True), steps, most=0)[1].position
    assert position is not None
    assert any(amount < 1.0 for _, amount in position.hold.levels) == half
