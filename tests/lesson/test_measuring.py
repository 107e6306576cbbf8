"""Measuring as a plan: what is asked, what is taken for what, and the copedent that comes of it."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.measuring import Measuring, Strike, strikes_of
from livecheck.sources.library import load_copedent, names_of

DAY = date(2026, 11, 25)
THREE = Copedent("three", (71.0, 68.0, 64.0), {"P": {1: 2.0}, "L": {1: -1.0, 3: -1.0}}, {frozenset("PL"): {1: 0.9}})
ASKED = (
    Strike(1),
    Strike(2),
    Strike(3),
    Strike(1, ("P",)),
    Strike(2, ("P",), pulled=False),
    Strike(1, ("L",)),
    Strike(3, ("L",)),
    Strike(1, ("L", "P")),
)
HEARD = (71.05, 67.9, 64.02, 73.1, 67.86, 70.0, 63.0, 71.9)


def after(midis: tuple[float, ...], measuring: Measuring | None = None) -> Measuring:
    measuring = Measuring.of(THREE) if measuring is None else measuring
    for midi in midis:
        measuring = measuring.hear(midi)
    return measuring


def test_open_strings_then_changes_then_what_they_leave_alone() -> None:
    assert strikes_of(THREE) == ASKED


def test_the_instrument_as_it_is() -> None:
    measuring = after(HEARD)
    assert (measuring.next, measuring.missing, measuring.has_all_open) == (None, (), True)
    own = measuring.measured(DAY)
    assert own.strings == HEARD[:3]
    assert own.changes["P"] == pytest.approx({1: 2.05})
    assert own.changes["L"] == pytest.approx({1: -1.05, 3: -1.02})
    assert own.pairs[frozenset("PL")] == pytest.approx({1: 0.85})
    assert own.drops == pytest.approx({"P": 0.04})
    assert own.measured == DAY


def test_the_worst_first() -> None:
    offs = after(HEARD).offs
    assert [(off.strike, round(off.cents)) for off in offs[:3]] == [
        (Strike(2), -10),
        (Strike(1, ("P",)), 10),
        (Strike(1), 5),
    ]
    assert all(off.strike.pulled for off in offs)


def test_another_string_or_a_pedal_that_is_up_is_not_taken() -> None:
    begun = Measuring.of(THREE)
    assert begun.hear(64.0) is begun
    assert begun.hear(71.8) is begun
    opened = after(HEARD[:3])
    assert opened.hear(71.05) is opened, "string 1 without P"


def test_what_is_passed_over_comes_again_once() -> None:
    measuring = after((71.05, 64.02))
    assert measuring.next == Strike(1, ("P",))
    assert measuring.waiting[-1] == Strike(2)
    assert not measuring.has_all_open
    whole = after((*HEARD[3:4], *HEARD[5:]), measuring)
    assert whole.waiting == (Strike(2), Strike(2, ("P",), pulled=False))
    assert after((67.0, 67.9, 67.86), whole).missing == ()


def test_what_was_not_heard_stays_as_it_was() -> None:
    own = after(HEARD[:3]).measured(DAY)
    assert (own.changes, own.pairs, own.drops) == (THREE.changes, THREE.pairs, {})


@pytest.mark.parametrize("name", names_of("copedents"))
def test_an_instrument_that_is_as_it_should_be_is_measured_so(name: str) -> None:
    meant = load_copedent(name)
    measuring = Measuring.of(meant)
    while (strike := measuring.next) is not None:
        measuring = measuring.hear(measuring.asked_midi(strike))
    own = measuring.measured(DAY)
    assert own.strings == meant.strings
    for change, pulls in meant.changes.items():
        assert own.changes[change] == pytest.approx(pulls)
    assert all(off.cents == pytest.approx(0.0, abs=1e-6) for off in measuring.offs)
    assert list(own.drops.values()) == pytest.approx([0.0] * len(own.drops))


@given(st.lists(st.floats(40.0, 90.0), max_size=60))
def test_whatever_is_heard_it_comes_to_an_end_and_loses_nothing(midis: list[float]) -> None:
    measuring = Measuring.of(THREE)
    for midi in midis:
        before, measuring = measuring, measuring.hear(midi)
        assert len(measuring.heard) - len(before.heard) in (0, 1)
        assert set(measuring.heard) | set(measuring.missing) == set(ASKED)
        assert set(measuring.waiting) <= set(measuring.missing)
        assert all(abs(midi - measuring.asked_midi(s)) < 1.5 for s, midi in measuring.heard.items() if not s.down)
