"""Which heard note is which asked pick: by string, time and pitch; wrong notes, unisons, notes struck again, strays."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.hearing.heard import HeardNote
from livecheck.judging.verdicts.match import Match, Matched, match, pick_midi
from tests.hearing.played import Part

WRONG_CENTS = 60.0
PART = Part.of(
    "{ beat = 1, fret = 3, pick = [5, 6] }",
    "{ beat = 2, fret = 5, pick = [5, 6] }",
    "{ beat = 3, fret = 3, pick = [5] }",
    "{ beat = 5, fret = 8, pick = [4] }",
)
# Strings 4, 5 and 6 are E4, B3 and G#3.
ASKED = [(1, 5, 62.0), (1, 6, 59.0), (2, 5, 64.0), (2, 6, 61.0), (3, 5, 62.0), (4, 4, 72.0)]
"""(step, string, pitch), in the expectation's order."""


def _note(string: int | None, start_s: float, midi: float, end_s: float | None = None) -> HeardNote:
    end_s = start_s + 0.8 if end_s is None else end_s
    return HeardNote(string, start_s, end_s, np.array([start_s, end_s]), np.array([midi, midi]))


def _by_the_book() -> dict[tuple[int, int], HeardNote]:
    return {
        (note.checkpoints[0].step, note.string): _note(note.string, note.start_beat, note.checkpoints[0].midi)
        for note in PART.expectation.notes
    }


def _match(heard: Sequence[HeardNote], part: Part = PART) -> Matched:
    return match(part.score, sorted(heard, key=lambda n: n.start_s), WRONG_CENTS)


def _served(matched: Matched) -> dict[tuple[int, int], Match]:
    return {(m.note.checkpoints[0].step, m.note.string): m for m in matched.matches}


def test_a_note_whose_pitch_was_not_made_out_soon_enough_is_not_taken_for_a_wrong_one() -> None:
    """What was heard of it, long after, may be where the bar had taken it; another note of the string, nearly in time
    but struck again later, is no better."""
    book = _by_the_book()
    first = book[1, 5]
    late = np.array([first.start_s + 0.5, first.end_s])
    book[1, 5] = replace(first, times_s=late, midis=np.array([66.0, 66.0]), supports=np.ones(2))
    again = _note(5, first.start_s + 0.3, 62.0)
    served = _served(_match([*book.values(), again]))[1, 5]
    assert served.heard[0] is book[1, 5]
    assert not served.instead


def test_by_the_book_each_pick_has_its_note() -> None:
    book = _by_the_book()
    matched = _match(list(book.values()))
    assert [(m.note.checkpoints[0].step, m.note.string, m.note.checkpoints[0].midi) for m in matched.matches] == ASKED
    assert {key: m.heard for key, m in _served(matched).items()} == {key: (note,) for key, note in book.items()}
    assert not any(m.instead for m in matched.matches)
    assert matched.strays == ()


@pytest.mark.parametrize("missing", [(step, string) for step, string, _ in ASKED])
def test_a_missing_note_leaves_its_own_pick_open(missing: tuple[int, int]) -> None:
    book = _by_the_book()
    del book[missing]
    matched = _match(list(book.values()))
    assert {key: m.heard for key, m in _served(matched).items()} == {
        (step, string): (book[step, string],) if (step, string) != missing else () for step, string, _ in ASKED
    }


@given(st.lists(st.floats(-0.2, 0.2), min_size=len(ASKED), max_size=len(ASKED)))
def test_whatever_the_hands_do_within_less_than_half_a_gap_each_note_stays_with_its_pick(offs_s: list[float]) -> None:
    book = {
        key: _note(note.string, note.start_s + off_s, float(note.midis[0]))
        for (key, note), off_s in zip(_by_the_book().items(), offs_s, strict=True)
    }
    served = _served(_match(list(book.values())))
    assert {key: m.heard[:1] for key, m in served.items()} == {key: (note,) for key, note in book.items()}


@given(
    st.lists(
        st.tuples(st.sampled_from([None, 3, 4, 5, 6]), st.floats(0.0, 7.0), st.sampled_from([59.0, 62.0, 64.0, 70.3])),
        max_size=8,
    )
)
def test_no_note_is_lost_and_none_counts_twice_but_for_unisons(played: list[tuple[int | None, float, float]]) -> None:
    notes = [_note(*one) for one in played]
    matched = _match(notes)
    kept = [*matched.strays, *(note for m in matched.matches for note in m.heard)]
    assert {id(note) for note in kept} == {id(note) for note in notes}
    assert not {id(note) for note in matched.strays} & {id(note) for m in matched.matches for note in m.heard}
    for one in matched.matches:
        if one.heard:
            assert PART.score.window(one.note.checkpoints[0]).holds(one.heard[0].start_s)


@pytest.mark.parametrize(("cents", "instead"), [(59.0, False), (-59.0, False), (61.0, True), (-61.0, True)])
def test_a_note_so_far_off_is_another_note(cents: float, instead: bool) -> None:
    book = _by_the_book()
    book[4, 4] = _note(4, 5.0, 72.0 + cents / 100.0)
    found = _served(_match(list(book.values())))[4, 4]
    assert (found.heard, found.instead) == ((book[4, 4],), instead)


def test_the_take_s_own_tuning_counts() -> None:
    score = replace(PART.score, tuning_cents=40.0)
    matched = match(score, [_note(4, 5.0, 72.9)], WRONG_CENTS)
    assert not _served(matched)[4, 4].instead


@pytest.mark.parametrize("string", [3, 5, None])
def test_another_string_s_note_serves_a_missing_pick_once(string: int | None) -> None:
    book = _by_the_book()
    del book[4, 4]
    wrong, further = _note(string, 5.05, 69.0), _note(string, 5.3, 67.0)
    matched = _match([*book.values(), wrong, further])
    found = _served(matched)[4, 4]
    assert found.heard[0] is wrong
    assert found.instead
    assert [note for note in (*matched.strays, *found.again) if note is further] == [further]


def test_what_is_struck_together_with_the_next_step_is_nothing_instead_of_a_missing_pick() -> None:
    """The next step comes a little early, when the missing string of the one before might still come."""
    book = _by_the_book()
    del book[2, 6]
    book[3, 5] = _note(5, 2.9, 62.0)
    beside = _note(7, 2.91, 57.0)
    matched = _match([*book.values(), beside])
    assert _served(matched)[2, 6].heard == ()
    assert matched.strays == (beside,)


def test_a_long_figure_of_which_half_is_missing_is_soon_matched() -> None:
    steps = 300
    part = Part.of(*(f"{{ beat = {beat}, fret = 3, pick = [5, 6] }}" for beat in range(1, steps + 1)), length=steps + 1)
    heard = [
        _note(note.string, note.start_beat, note.checkpoints[0].midi)
        if place % 4
        else _note(9, note.start_beat + 0.1, 40.3)
        for place, note in enumerate(part.expectation.notes)
    ]
    began_s = time.process_time()
    matched = _match(heard, part)
    assert time.process_time() - began_s < 1.0
    assert sum(m.instead for m in matched.matches) == steps // 2


def test_a_note_too_far_in_time_serves_nothing() -> None:
    book = _by_the_book()
    del book[4, 4]
    early = _note(4, 3.9, 72.0)
    matched = _match([*book.values(), early])
    assert _served(matched)[4, 4].heard == ()
    assert matched.strays == (early,)


def test_a_string_that_was_not_asked_is_a_stray() -> None:
    extra = _note(8, 1.5, 55.0)
    matched = _match([*_by_the_book().values(), extra])
    assert matched.strays == (extra,)


def test_a_string_struck_again_while_it_rings_belongs_to_its_pick() -> None:
    book = _by_the_book()
    book[3, 5] = _note(5, 3.0, 62.0, end_s=4.2)
    again = _note(5, 4.2, 62.0, end_s=5.0)
    matched = _match([*book.values(), again])
    assert _served(matched)[3, 5].again == (again,)
    assert matched.strays == ()


def test_a_string_struck_again_after_it_was_silent_is_a_stray() -> None:
    book = _by_the_book()
    book[3, 5] = _note(5, 3.0, 62.0, end_s=3.4)
    later = _note(5, 4.2, 62.0)
    assert _match([*book.values(), later]).strays == (later,)


@pytest.mark.parametrize(("at_s", "is_again"), [(1.9, True), (1.98, False), (2.02, False)])
def test_a_string_struck_together_with_the_pick_that_ends_it_is_a_stray(at_s: float, is_again: bool) -> None:
    """String 6 is not asked for then: that it rang until then does not make it one that rings."""
    part = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }", "{ beat = 2, fret = 5, pick = [5] }")
    heard = [_note(5, 1.0, 62.0, 2.0), _note(6, 1.0, 59.0, 2.0), _note(5, 2.0, 64.0), _note(6, at_s, 61.0)]
    matched = _match(heard, part)
    assert [len(m.again) for m in matched.matches] == [0, int(is_again), 0]
    assert len(matched.strays) == int(not is_again)


def test_of_two_notes_in_one_window_the_nearer_is_the_pick() -> None:
    book = _by_the_book()
    near, far = book[4, 4], _note(4, 4.4, 72.0, end_s=4.6)
    matched = _match([*book.values(), far])
    assert _served(matched)[4, 4].heard == (near,)
    assert matched.strays == (far,)


def test_the_right_pitch_is_worth_some_distance() -> None:
    book = _by_the_book()
    del book[4, 4]
    right, wrong = _note(4, 5.2, 72.0), _note(4, 4.95, 68.0, end_s=5.0)
    assert _served(_match([*book.values(), right, wrong]))[4, 4].heard[0] is right


def test_unisons_count_as_one() -> None:
    """String 5 at fret 8, and string 6 at fret 11 under a slanted bar: both G4."""
    part = Part.of("{ beat = 1, slant = { 5 = 8, 6 = 11 }, pick = [5, 6] }")
    assert [note.checkpoints[0].midi for note in part.expectation.notes] == [67.0, 67.0]
    for string in (5, 6):
        one = _note(string, 1.0, 67.0)
        matched = _match([one], part)
        assert [m.heard for m in matched.matches] == [(one,), (one,)]
        assert not any(m.instead for m in matched.matches)
    assert [m.heard for m in _match([], part).matches] == [(), ()]


def test_a_pitch_is_read_once_the_pick_has_settled() -> None:
    times_s = np.array([1.0, 1.04, 1.06, 3.0])
    note = HeardNote(5, 1.0, 3.0, times_s, np.array([65.0, 64.0, 62.1, 62.1]))
    assert pick_midi(note, 62.0) == pytest.approx(62.1)
    assert pick_midi(HeardNote(5, 1.0, 3.0, times_s, np.full(4, np.nan)), 62.0) is None


def test_a_note_that_glides_at_once_has_the_pitch_that_it_began_with() -> None:
    glide = HeardNote(5, 1.0, 2.0, np.array([1.0, 1.1, 1.3, 2.0]), np.array([62.0, 62.0, 66.0, 66.0]))
    assert pick_midi(glide, 62.0) == pytest.approx(62.0, abs=0.3)
