"""What a figure should sound like: notes, their curves and their checkpoints.

Curves are worked out by hand from what bar, pedals and levers do: linear in pitch, separately, added. Outside check:
the partials 2, 3, 4 of a string lie an octave (1200 cents), a twelfth (1901.96) and two octaves (2400) above it, all of
them published sizes.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import HARMONIC_SEMITONES, Expectation, expect
from livecheck.lesson.figure import Bar, Figure, Stance, Step
from tests.lesson.written import arrivals, expected, note_of, steel

# Open strings of E9 that the tests use: 3 is G#4 = 68, 4 is E4 = 64, 5 is B3 = 59, 6 is G#3 = 56, 8 is E3 = 52.
START = "beat = 1, fret = 3, pick = [5, 6]"


def curve(expectation: Expectation, string: int, *beats: float) -> list[float]:
    return [float(midi) for midi in note_of(expectation, string).midi_at(np.array(beats))]


def test_a_picked_string_sounds_until_the_figure_ends() -> None:
    what = expected(START)
    assert [(n.string, n.start_beat, n.end_beat, n.ending) for n in what.notes] == [
        (5, 1.0, 9.0, "end"),
        (6, 1.0, 9.0, "end"),
    ]
    assert [(c.step, c.string, c.kind, c.beat, c.midi, c.move) for c in what.checkpoints] == [
        (1, 5, "pick", 1.0, 62.0, None),
        (1, 6, "pick", 1.0, 59.0, None),
    ]
    assert curve(what, 5, 1.0, 5.0, 9.0) == [62.0, 62.0, 62.0]


def test_a_slide_is_linear_and_ends_on_its_beat() -> None:
    what = expected(START, "beat = 4, fret = 5, over = 2")
    assert curve(what, 5, 1.0, 2.0, 2.5, 3.0, 4.0, 5.0) == [62.0, 62.0, 62.5, 63.0, 64.0, 64.0]
    arrive = arrivals(what)[0]
    assert (arrive.step, arrive.string, arrive.beat, arrive.midi, arrive.from_midi) == (2, 5, 4.0, 64.0, 62.0)
    assert (arrive.over, arrive.move) == (2.0, "slide")


def test_a_pedal_moves_only_its_strings() -> None:
    what = expected(START, 'beat = 2, down = ["A"]')
    assert [(c.string, c.midi, c.move) for c in arrivals(what)] == [(5, 64.0, "pedal")]
    assert curve(what, 5, 1.75, 1.875, 2.0) == [62.0, 63.0, 64.0]
    assert curve(what, 6, 1.0, 9.0) == [59.0, 59.0]


def test_bar_and_pedals_are_separate_curves_that_add() -> None:
    """The bar slides from beat 2 to 4, pedal A goes down from 2.5 to 3, past the middle of the slide."""
    what = expected(START, 'beat = 3, down = ["A"], over = 0.5', "beat = 4, fret = 5, over = 2")
    assert curve(what, 5, 2.0, 2.5, 2.75, 3.0, 3.5, 4.0) == [62.0, 62.5, 62.75 + 1.0, 65.0, 65.5, 66.0]
    assert curve(what, 6, 2.0, 3.0, 4.0) == [59.0, 60.0, 61.0]
    assert [(c.step, c.string, c.move, c.midi) for c in arrivals(what)] == [
        (2, 5, "pedal", 64.0),
        (3, 5, "slide", 66.0),
        (3, 6, "slide", 61.0),
    ]


def test_bar_and_pedal_together_are_one_move_of_a_string() -> None:
    what = expected(START, 'beat = 3, fret = 5, down = ["B"], over = 1')
    assert [(c.string, c.move, c.from_midi, c.midi) for c in arrivals(what)] == [
        (5, "slide", 62.0, 64.0),
        (6, "both", 59.0, 62.0),
    ]


def test_bar_and_lever_that_cancel_are_no_checkpoint() -> None:
    """One fret up while LKR lowers string 8 by one semitone: the string stays, the others move."""
    what = expected("beat = 1, fret = 3, pick = [6, 8]", 'beat = 2, fret = 4, down = ["LKR"]')
    assert [c.string for c in arrivals(what)] == [6]
    assert curve(what, 8, 1.0, 1.8, 2.0, 9.0) == pytest.approx([55.0] * 4)


@pytest.mark.parametrize(("fret", "checked"), [(3.4, False), (3.49, False), (3.5, True), (2.5, True), (2.6, False)])
def test_half_a_semitone_or_more_is_a_checkpoint(fret: float, checked: bool) -> None:
    assert len(arrivals(expected(START, f"beat = 2, fret = {fret}"))) == (2 if checked else 0)


def test_several_moves_after_one_pick() -> None:
    what = expected(START, "beat = 2, fret = 5", "beat = 3, fret = 3", 'beat = 4, down = ["A", "B"]')
    assert [(c.step, c.string, c.midi) for c in arrivals(what)] == [
        (2, 5, 64.0), (2, 6, 61.0), (3, 5, 62.0), (3, 6, 59.0), (4, 5, 64.0), (4, 6, 60.0),
    ]  # fmt: skip
    assert what.beats == (1.0, 2.0, 3.0, 4.0)


def test_a_pick_silences_what_it_does_not_keep() -> None:
    what = expected(START, "beat = 3, fret = 5, pick = [8]")
    assert [(n.string, n.end_beat, n.ending) for n in what.notes] == [
        (5, 3.0, "pick"),
        (6, 3.0, "pick"),
        (8, 9.0, "end"),
    ]
    assert arrivals(what) == []
    assert curve(what, 5, 1.0, 3.0) == [62.0, 62.0]


def test_strings_that_ring_on_move_with_the_bar() -> None:
    what = expected(START, "beat = 3, fret = 5, pick = [8], ring = [5], over = 1")
    assert [(n.string, n.end_beat, n.ending) for n in what.notes] == [
        (5, 9.0, "end"),
        (6, 3.0, "pick"),
        (8, 9.0, "end"),
    ]
    assert [(c.step, c.string, c.kind) for c in what.checkpoints] == [
        (1, 5, "pick"),
        (1, 6, "pick"),
        (2, 5, "arrive"),
        (2, 8, "pick"),
    ]
    assert curve(what, 5, 2.0, 2.5, 3.0) == [62.0, 63.0, 64.0]
    assert curve(what, 8, 3.0) == [57.0]


def test_ring_true_keeps_all() -> None:
    what = expected(START, "beat = 3, pick = [8], ring = true")
    assert {n.string: n.ending for n in what.notes} == {5: "end", 6: "end", 8: "end"}


def test_a_string_picked_again_begins_a_new_note() -> None:
    what = expected(START, "beat = 3, fret = 5, pick = [5], ring = true")
    assert [(n.string, n.start_beat, n.end_beat, n.ending) for n in what.notes] == [
        (5, 1.0, 3.0, "pick"),
        (6, 1.0, 9.0, "end"),
        (5, 3.0, 9.0, "end"),
    ]
    assert [(c.step, c.string, c.kind, c.midi) for c in what.checkpoints if c.step == 2] == [
        (2, 5, "pick", 64.0),
        (2, 6, "arrive", 61.0),
    ]


def test_blocks() -> None:
    what = expected(START, "beat = 3, block = [6]", "beat = 4, fret = 5", 'beat = 5, block = "all"')
    assert [(n.string, n.end_beat, n.ending) for n in what.notes] == [(5, 5.0, "block"), (6, 3.0, "block")]
    assert [(c.step, c.string) for c in arrivals(what)] == [(3, 5)]


def test_a_block_before_a_pick_silences_a_kept_string() -> None:
    what = expected(START, "beat = 3, block = [6], pick = [8], ring = true")
    assert {n.string: (n.end_beat, n.ending) for n in what.notes} == {
        5: (9.0, "end"),
        6: (3.0, "block"),
        8: (9.0, "end"),
    }


def test_a_move_on_the_beat_of_a_block_does_not_arrive() -> None:
    what = expected(START, 'beat = 3, fret = 5, block = "all"', "beat = 4, pick = [8]")
    assert arrivals(what) == []


def test_a_roll_spreads_a_grip_in_the_order_listed() -> None:
    what = expected("beat = 2, fret = 3, pick = [8, 5, 6], roll = 0.25")
    assert [(n.string, n.start_beat) for n in what.notes] == [(8, 2.0), (5, 2.25), (6, 2.5)]
    assert {c.string: c.beat for c in what.checkpoints} == {8: 2.0, 5: 2.25, 6: 2.5}


def test_strings_rolled_again_are_silenced_when_the_roll_begins_and_do_not_arrive() -> None:
    what = expected(START, "beat = 3, fret = 5, pick = [5, 6], roll = 0.5")
    spans = [(n.string, n.start_beat, n.end_beat) for n in what.notes]
    assert spans == [(5, 1.0, 3.0), (6, 1.0, 3.0), (5, 3.0, 9.0), (6, 3.5, 9.0)]
    assert arrivals(what) == []


@pytest.mark.parametrize(("frets", "cents"), [(12, 1200.0), (7, 1901.96), (5, 2400.0)])
def test_harmonics(frets: int, cents: float) -> None:
    what = expected(
        f"beat = 1, fret = 3, pick = [5], harmonic = {frets}", "beat = 3, fret = 5", 'beat = 4, down = ["A"]'
    )
    assert HARMONIC_SEMITONES[frets] == pytest.approx(cents / 100.0, abs=1e-4)
    assert [c.midi for c in what.checkpoints] == pytest.approx(
        [m + cents / 100.0 for m in (62.0, 64.0, 66.0)], abs=1e-4
    )
    assert note_of(what, 5).harmonic


def test_slants_move_each_string_its_own_way() -> None:
    what = expected("beat = 1, fret = 3, pick = [4, 5, 6]", "beat = 2, slant = { 4 = 3, 6 = 5 }", "beat = 3, fret = 3")
    assert [(c.step, c.string, c.midi, c.move) for c in arrivals(what)] == [
        (2, 5, 63.0, "slide"),
        (2, 6, 61.0, "slide"),
        (3, 5, 62.0, "slide"),
        (3, 6, 59.0, "slide"),
    ]


def test_pulls_behind_the_bar_count_as_pedals() -> None:
    what = expected("beat = 1, fret = 3, pick = [1, 2]", "beat = 2, pull = { 2 = 1 }", copedent=steel())
    assert [(c.string, c.midi, c.move) for c in arrivals(what)] == [(2, 72.0, "pedal")]


def test_half_pedals() -> None:
    what = expected(START, "beat = 2, down = { A = 0.5 }", "beat = 3, down = { A = 1, B = 0.25 }")
    assert [(c.step, c.string, c.midi) for c in arrivals(what)] == [(2, 5, 63.0), (3, 5, 64.0)]
    assert curve(what, 6, 2.5, 3.0) == [59.0, 59.25]


def test_pedals_that_pull_the_same_string_do_not_add() -> None:
    what = expected(
        START, 'beat = 2, down = ["A"]', 'beat = 3, down = ["A", "C"]', 'beat = 4, down = ["A", "C", "LKV"]'
    )
    assert [(c.step, c.string, c.midi) for c in arrivals(what)] == [(2, 5, 64.0), (4, 5, 63.0)]


def test_a_swell_is_told() -> None:
    what = expected("beat = 1, fret = 3, pick = [5], swell = true", "beat = 2, pick = [6]")
    assert [c.swell for c in what.checkpoints] == [True, False]


def test_a_glide_never_begins_before_its_string_is_picked() -> None:
    what = expected(
        "beat = 1, fret = 3, pick = [5]", "beat = 3, pick = [6], ring = true", "beat = 3.5, fret = 5, over = 1"
    )
    assert curve(what, 5, 2.5, 3.0, 3.5) == [62.0, 63.0, 64.0]
    assert curve(what, 6, 3.0, 3.25, 3.5) == [59.0, 60.0, 61.0]


# Gaps are wider than the quarter of a beat that a move takes, so that no two moves overlap.
STEPS = st.lists(
    st.tuples(
        st.floats(0.3, 1.5),
        st.integers(0, 12),
        st.lists(st.sampled_from(["A", "B", "C", "LKL", "LKR"]), unique=True),
        st.lists(st.integers(1, 10), unique=True, max_size=3),
        st.booleans(),
    ),
    min_size=1,
    max_size=8,
)


@given(STEPS)
def test_whatever_is_written_the_notes_of_a_string_never_overlap(
    steps: list[tuple[float, int, list[str], list[int], bool]],
) -> None:
    written, beat = ["beat = 1, fret = 0, pick = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10]"], 1.0
    for gap, fret, down, pick, ring in steps:
        beat = round(beat + gap, 3)
        picked = f", pick = {pick}, ring = {str(ring).lower()}" if pick else ""
        quoted = ", ".join(f'"{name}"' for name in down)
        written.append(f"beat = {beat}, fret = {fret}, down = [{quoted}]{picked}")
    what = expected(*written, length="40")
    for note in what.notes:
        assert note.start_beat < note.end_beat
        beats = [b for b, _ in note.knots]
        assert beats == sorted(set(beats))
        assert note.start_beat in beats
        assert note.checkpoints[0].kind == "pick"
        assert all(note.start_beat < c.beat < note.end_beat for c in note.checkpoints[1:])
        for arrive in note.checkpoints[1:]:
            assert note.midi_at(np.array([arrive.beat]))[0] == pytest.approx(arrive.midi)
    for string in range(1, 11):
        spans = sorted((n.start_beat, n.end_beat) for n in what.notes if n.string == string)
        assert all(earlier[1] <= later[0] for earlier, later in pairwise(spans))
    picks = [(c.step, c.string) for c in what.checkpoints if c.kind == "pick"]
    assert len(picks) == 10 + sum(len(pick) for _, _, _, pick, _ in steps) == len(set(picks))


def test_strings_that_are_not_pulled_fall_with_the_pedals() -> None:
    """Arithmetic: 4 cents for P alone, the sum for P and L; string 1 is pulled and measured so."""
    copedent = Copedent("own", (71.0, 68.0), {"P": {1: 2.0}, "L": {1: -1.0}}, {}, {"P": 0.04, "L": -0.01})
    held = [Stance(Bar.straight(3.0), down) for down in ({}, {"P": 0.5}, {"P": 1.0, "L": 1.0})]
    steps = [
        Step(n, Fraction(n), stance, Fraction(1, 4), moves_changes=n > 1, pick=(1, 2) if n == 1 else ())
        for n, stance in enumerate(held, start=1)
    ]
    one, two = expect(Figure("f", Fraction(4), tuple(steps)), copedent).notes
    assert two.midi_at(np.array([1.0, 2.0, 3.0])).tolist() == pytest.approx([71.0, 70.98, 70.97])
    assert one.midi_at(np.array([1.0, 2.0, 3.0])).tolist() == pytest.approx([74.0, 75.0, 75.0])
    assert [c.kind for c in two.checkpoints] == ["pick"]


@pytest.mark.parametrize(
    ("beats", "more", "shifts"),
    [
        (("1", "2", "3", "4"), "", (1.0, 2.0)),
        (("1", "4/3", "5/3", "2"), "", (1 / 3, 2 / 3)),
        (("1", "2", "3", "4"), "roll = 0.1", (1.0, 2.0)),
        (("1",), "", ()),
    ],
)
def test_a_figure_of_equal_notes_may_be_mistaken_for_itself(
    beats: tuple[str, ...], more: str, shifts: tuple[float, ...]
) -> None:
    """Two beats later, two of four notes come again."""
    steps = [f'beat = "{beat}", fret = 3, pick = [5, 6, 8]{", " + more if more else ""}' for beat in beats]
    assert expected(*steps).shifts == pytest.approx(shifts, abs=1e-5)


def test_a_figure_of_different_notes_is_mistaken_for_nothing() -> None:
    assert expected(START, "beat = 2, fret = 5, pick = [5, 6]", "beat = 3, fret = 3, pick = [3, 4]").shifts == ()
