"""Slips planted on an E9 neck, and the sentence that each must give.

What the pedals and levers do, and which slips are usual, is common practice, no source. The intonation cases use
small-number ratios: a just major third is 5/4, 386.3 cents (Helmholtz, On the Sensations of Tone, table of intervals).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.judging.verdicts.cause import causes_of
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Bar, Figure, Stance, Step
from livecheck.lesson.pitch import parse_name

E9 = Copedent(
    "E9",
    tuple(parse_name(name) for name in ("F#4", "D#4", "G#4", "E4", "B3", "G#3", "F#3", "E3", "D3", "B2")),
    {
        "A": {5: 2.0, 10: 2.0},
        "B": {3: 1.0, 6: 1.0},
        "C": {4: 2.0, 5: 2.0},
        "LKL": {4: 1.0, 8: 1.0},
        "LKV": {5: -1.0, 10: -1.0},
        "LKR": {4: -1.0, 8: -1.0},
        "RKL": {1: 1.0, 6: -2.0},
        "RKR": {2: -2.0, 9: -1.0},
    },
)
LAP = Copedent("six strings", tuple(parse_name(name) for name in ("E4", "C4", "A3", "G3", "E3", "C3")))


def stance(
    fret: float | Mapping[int, float], down: Mapping[str, float] | None = None, pull: Mapping[int, float] | None = None
) -> Stance:
    bar = Bar.slanted(fret) if isinstance(fret, Mapping) else Bar.straight(fret)
    return Stance(bar, down or {}, pull or {})


def figure(*stances: tuple[Stance, tuple[int, ...]], harmonic: int | None = None) -> Figure:
    """Steps a beat apart: each a stance and the strings picked, none for a move."""
    steps: list[Step] = []
    for number, (held, pick) in enumerate(stances, start=1):
        before = steps[-1].stance if steps else held
        steps.append(
            Step(
                number,
                Fraction(number),
                held,
                Fraction(1, 4),
                held.bar != before.bar,
                (held.down, held.pull) != (before.down, before.pull),
                pick,
                harmonic=harmonic,
            )
        )
    return Figure("1", Fraction(8), tuple(steps))


def played(copedent: Copedent, held: Stance, *strings: int, off_cents: float = 0.0) -> dict[int, float | None]:
    return {string: held.midi(string, copedent) + off_cents / 100.0 for string in strings}


AT_8 = figure((stance(8, {"A": 1}), (5, 8)))
SLIDE = figure((stance(5), (5, 8)), (stance(8), ()))
SQUEEZE = figure((stance(8), (5, 6)), (stance(8, {"A": 1, "B": 1}), ()))
RELEASE = figure((stance(10, {"LKR": 1}), (5, 8)), (stance(10), ()))
HALF = figure((stance(7, {"B": 0.5}), (3, 4)))
BOTH = figure((stance(3), (4, 5)), (stance(8, {"A": 1}), ()))

CASES: dict[str, tuple[Figure, Stance, float, tuple[int, ...], dict[int, str]]] = {
    # name: figure, what was held at its last step, cents on top, strings judged, causes
    "bar a fret low": (AT_8, stance(7, {"A": 1}), 0, (5, 8), dict.fromkeys((5, 8), "bar at 7, not 8")),
    "bar two frets high": (AT_8, stance(10, {"A": 1}), 12, (5, 8), dict.fromkeys((5, 8), "bar at 10, not 8")),
    "bar flat": (AT_8, stance(8, {"A": 1}), -18, (5, 8), dict.fromkeys((5, 8), "bar 18 cents flat")),
    "bar sharp": (AT_8, stance(8, {"A": 1}), 31, (5, 8), dict.fromkeys((5, 8), "bar 31 cents sharp")),
    "between two frets": (AT_8, stance(6.5, {"A": 1}), 0, (5, 8), dict.fromkeys((5, 8), "bar 1.5 frets low")),
    "pedal forgotten": (AT_8, stance(8), 0, (5, 8), {5: "A not down"}),
    "pedal half": (AT_8, stance(8, {"A": 0.5}), 5, (5, 8), {5: "A half down"}),
    "pedal short": (AT_8, stance(8, {"A": 0.875}), 0, (5, 8), {5: "A 25 cents short"}),
    "pedal too far": (AT_8, stance(8, {"A": 1.12}), 0, (5, 8), {5: "A 24 cents too far"}),
    "bar and pedal": (AT_8, stance(7), 0, (5, 8), dict.fromkeys((5, 8), "bar at 7, not 8; A not down")),
    "bar flat, no pedal": (AT_8, stance(8), -30, (5, 8), dict.fromkeys((5, 8), "bar 30 cents flat; A not down")),
    "slide not made": (SLIDE, stance(5), 0, (5, 8), dict.fromkeys((5, 8), "bar did not move")),
    "slide one fret short": (SLIDE, stance(7), -8, (5, 8), dict.fromkeys((5, 8), "bar at 7, not 8")),
    "squeeze not made": (SQUEEZE, stance(8), 0, (5, 6), dict.fromkeys((5, 6), "A and B not down")),
    "squeeze by one foot": (SQUEEZE, stance(8, {"A": 1}), 0, (5, 6), {6: "B not down"}),
    "lever kept": (RELEASE, stance(10, {"LKR": 1}), 0, (8,), {8: "LKR still down"}),
    "lever half off": (RELEASE, stance(10, {"LKR": 0.5}), 0, (8,), {8: "LKR half released"}),
    "lever nearly off": (RELEASE, stance(10, {"LKR": 0.25}), 0, (8,), {8: "LKR not all the way off, 25 cents"}),
    "half pedal to the stop": (HALF, stance(7, {"B": 1}), 0, (3, 4), {3: "B all the way down"}),
    "half pedal forgotten": (HALF, stance(7), 0, (3, 4), {3: "B not down"}),
    "pedal nobody asked for": (HALF, stance(7, {"B": 0.5, "LKL": 1}), 0, (3, 4), {4: "LKL down as well"}),
    "bar without pedal": (BOTH, stance(8), 0, (4, 5), {5: "A not down"}),
    "pedal without bar": (BOTH, stance(3, {"A": 1}), 0, (4, 5), dict.fromkeys((4, 5), "bar did not move")),
    "nothing moved": (BOTH, stance(3), 0, (4, 5), dict.fromkeys((4, 5), "bar did not move; A not down")),
    "in tune": (AT_8, stance(8, {"A": 1}), 4, (5, 8), {}),
}


@pytest.mark.parametrize("case", CASES)
def test_a_planted_slip_is_named(case: str) -> None:
    asked, held, off_cents, strings, wanted = CASES[case]
    heard = played(E9, held, *strings, off_cents=off_cents)
    last = asked.steps[-1]
    astray = [s for s, midi in heard.items() if midi is not None and abs(midi - last.stance.midi(s, E9)) > 0.15]
    assert causes_of(asked, last.number, heard, astray, E9) == wanted


def test_picked_with_the_bar_where_it_was() -> None:
    asked = figure((stance(5), (5,)), (stance(7), (4, 5)))
    causes = causes_of(asked, 2, played(E9, stance(5), 4, 5), [4, 5], E9)
    assert causes == dict.fromkeys((4, 5), "picked with the bar still at 5")


def test_the_string_next_door() -> None:
    asked = figure((stance(3), (6, 10)))
    heard = {6: stance(3).midi(7, E9), 10: stance(3).midi(10, E9)}
    assert causes_of(asked, 1, heard, [6], E9) == {6: "string 7 instead of 6"}


def test_a_whole_grip_one_string_off_is_one_cause() -> None:
    asked = figure((stance(3), (5, 8)))
    heard = {5: stance(3).midi(6, E9), 8: stance(3).midi(9, E9)}
    assert causes_of(asked, 1, heard, [5, 8], E9) == dict.fromkeys((5, 8), "strings 6 and 9 instead of 5 and 8")


def test_two_different_slips_in_one_step_keep_apart() -> None:
    asked = figure((stance(3, {"A": 1}), (5, 6, 8)))
    heard = {5: stance(3).midi(5, E9), 6: stance(3).midi(7, E9), 8: stance(3).midi(8, E9)}
    assert causes_of(asked, 1, heard, [5, 6], E9) == {5: "A not down", 6: "string 7 instead of 6"}


def test_a_moving_string_is_no_neighbouring_string() -> None:
    """Another string can be struck by mistake, but not slid to."""
    asked = figure((stance(3), (5,)), (stance(8), ()))
    heard = {5: stance(8).midi(7, E9) + 0.0}
    assert "instead" not in causes_of(asked, 2, heard, [5], E9).get(5, "")


def test_open_strings_have_no_bar_to_blame() -> None:
    asked = figure((stance(0), (5, 8)))
    assert causes_of(asked, 1, played(E9, stance(0), 5, 8, off_cents=-25), [5, 8], E9) == {}


def test_one_string_of_two_out_of_tune_has_no_cause() -> None:
    asked = figure((stance(3), (5, 8)))
    heard = {5: stance(3).midi(5, E9) - 0.25, 8: stance(3).midi(8, E9)}
    assert causes_of(asked, 1, heard, [5], E9) == {}


@pytest.mark.parametrize("semitones", [-4.4, 3.6, 6.5])
def test_a_pitch_that_nothing_on_the_neck_gives_has_no_cause(semitones: float) -> None:
    asked = figure((stance(3), (5,)))
    assert causes_of(asked, 1, {5: stance(3).midi(5, E9) + semitones}, [5], E9) == {}


def test_what_was_not_heard_explains_nothing() -> None:
    assert causes_of(AT_8, 1, {5: None, 8: None}, [5, 8], E9) == {}
    one = {5: stance(7, {"A": 1}).midi(5, E9), 8: None}
    assert causes_of(AT_8, 1, one, [5], E9) == {5: "bar at 7, not 8"}


def test_a_flat_pedal_move_is_the_pedal_or_a_bar_that_was_flat_before() -> None:
    asked = figure((stance(8), (5, 8)), (stance(8, {"A": 1}), ()))
    heard = played(E9, stance(8, {"A": 1}), 5, off_cents=-20)
    assert causes_of(asked, 2, heard, [5], E9, {5: 1.0, 8: -3.0}) == {5: "A 20 cents short"}
    assert causes_of(asked, 2, heard, [5], E9, {5: -19.0, 8: -22.0}) == {5: "bar 20 cents flat"}


def test_slants() -> None:
    asked = figure((stance({5: 3, 6: 4}), (5, 6)))
    assert causes_of(asked, 1, played(E9, stance(3), 5, 6), [6], E9) == {6: "bar straight at 3, not slanted"}
    low = played(E9, stance({5: 2, 6: 3}), 5, 6)
    assert causes_of(asked, 1, low, [5, 6], E9) == dict.fromkeys((5, 6), "bar 1 fret low")
    into = figure((stance({5: 3, 6: 4}), (5, 6)), (stance(8), (5, 6)))
    late = played(E9, stance({5: 3, 6: 4}), 5, 6)
    assert causes_of(into, 2, late, [5, 6], E9) == dict.fromkeys((5, 6), "picked with the bar still slanted")


def test_pulls_behind_the_bar() -> None:
    asked = figure((stance(5), (1, 2)), (stance(5, pull={2: 1.0}), ()))
    assert causes_of(asked, 2, played(LAP, stance(5), 2), [2], LAP) == {2: "string 2 not pulled"}
    weak = played(LAP, stance(5, pull={2: 0.7}), 2)
    assert causes_of(asked, 2, weak, [2], LAP) == {2: "string 2 pulled 30 cents short"}
    back = figure((stance(5, pull={2: 1.0}), (1, 2)), (stance(5), ()))
    assert causes_of(back, 2, played(LAP, stance(5, pull={2: 1.0}), 2), [2], LAP) == {2: "string 2 still pulled"}


def test_harmonics() -> None:
    """Partials 2 and 3 of a string lie 1200 and 1902 cents above it (the harmonic series)."""
    asked = figure((stance(5), (3,)), harmonic=12)
    assert causes_of(asked, 1, played(LAP, stance(5), 3), [3], LAP) == {3: "harmonic did not sound"}
    seventh = played(LAP, stance(5), 3, off_cents=1200.0 * math.log2(3.0))
    assert causes_of(asked, 1, seventh, [3], LAP) == {3: "harmonic touched 7 frets up, not 12"}
    low = played(LAP, stance(4), 3, off_cents=1200.0)
    assert causes_of(asked, 1, low, [3], LAP) == {3: "bar at 4, not 5"}


def test_in_tune_is_what_the_copedent_says() -> None:
    """A just third lies 13.7 cents under equal temperament; played so on an instrument tuned so, it needs no excuse."""
    third = 12.0 * math.log2(5.0 / 4.0) - 4.0
    just = Copedent("just", (*E9.strings[:5], E9.strings[5] + third, *E9.strings[6:]), E9.changes)
    asked = figure((stance(8, {"A": 1}), (5, 6)))
    heard = played(just, stance(8, {"A": 1}), 5, 6, off_cents=-20)
    assert causes_of(asked, 1, heard, [5, 6], just) == dict.fromkeys((5, 6), "bar 20 cents flat")
    assert causes_of(asked, 1, heard, [6], E9) == {}, "34 against 20 cents flat: no bar does that"


DOWNS: list[dict[str, float]] = [{}, {"A": 1.0}, {"A": 1.0, "B": 1.0}, {"LKR": 1.0}]


@given(st.integers(3, 15), st.integers(-3, 3).filter(bool), st.floats(-19, 19), st.sampled_from(DOWNS))
def test_three_strings_always_betray_the_bar(fret: int, away: int, off_cents: float, down: dict[str, float]) -> None:
    asked = figure((stance(fret, down), (4, 5, 6)))
    heard = played(E9, stance(fret + away, down), 4, 5, 6, off_cents=off_cents)
    assert causes_of(asked, 1, heard, [4, 5, 6], E9) == dict.fromkeys((4, 5, 6), f"bar at {fret + away}, not {fret}")
