"""What a player is told to work on: the habit before the slip, the bad before the small."""

from __future__ import annotations

from typing import Any

import pytest

from livecheck.judging.verdict import ExtraVerdict, FigureVerdict
from livecheck.reports.advice import advice
from livecheck.reports.mistake import mistakes_of
from tests.reports.verdicts import E9, NOT_HEARD, figure_of, lesson_of

LESSON = lesson_of()
LATE: dict[str, Any] = {"ms": 180, "faults": ("late",)}
FLAT: dict[str, Any] = {"off_cents": -20, "faults": ("flat",)}


def told(*figures: FigureVerdict) -> list[str]:
    return advice([mistake for figure in figures for mistake in mistakes_of(figure)], E9)


def test_nothing_wrong_nothing_said() -> None:
    assert told(figure_of(LESSON, "1")) == []


def test_a_habit_comes_before_a_worse_slip() -> None:
    first, second = told(
        figure_of(LESSON, "walk", {(2, 6): LATE, (4, 6): LATE, (3, 6): {**NOT_HEARD, "faults": ("missed",)}})
    )
    assert first.startswith("Slides arrive late (twice, by about 180 ms).")
    assert second.startswith("Strings are not heard (once).")


def test_two_things_at_most_and_no_trifle_beside_a_real_one() -> None:
    missed = {**NOT_HEARD, "faults": ("missed",)}
    extras = (ExtraVerdict("extra-pick", 3.4, 5, 69.0, 2), ExtraVerdict("extra-note", 3.4, None, 61.0, 3))
    assert len(told(figure_of(LESSON, "1", {(4, 3): missed, (3, 5): LATE}, extras))) == 2
    assert len(told(figure_of(LESSON, "1", {(4, 3): missed, (1, 5): {"faults": ("rang-on",)}}))) == 1


@pytest.mark.parametrize(
    ("cause", "begins"),
    [
        ("bar 20 cents flat", "The bar stops short of the fret (once, by 20 cents)."),
        ("bar 20 cents sharp", "The bar goes past the fret"),
        ("bar at 7, not 8", "The bar is at another fret"),
        ("bar 1.5 frets low", "The bar is at another fret"),
        ("bar did not move", "The bar stays where it was"),
        ("picked with the bar still at 5", "The pick comes before the bar is there"),
        ("B not down", "B is not where it should be"),
        ("LKR still down", "LKR is not where it should be"),
        ("string 7 instead of 6", "Other strings are struck than asked"),
        ("strings 7 and 9 instead of 6 and 8", "Other strings are struck than asked"),
        ("string 2 not pulled", "Pulls behind the bar are off"),
        ("harmonic did not sound", "Harmonics do not come"),
    ],
)
def test_a_cause_decides_what_to_work_on(cause: str, begins: str) -> None:
    assert told(figure_of(LESSON, "1", {(1, 5): {**FLAT, "cause": cause}}))[0].startswith(begins)


@pytest.mark.parametrize("fault", ["missed", "wrong-note", "missed-move", "flat", "sharp", "cut-short", "rang-on"])
def test_every_fault_has_its_advice(fault: str) -> None:
    (said,) = told(figure_of(LESSON, "1", {(3, 5): {"faults": (fault,), "off_cents": -40.0}}))
    assert "(once" in said
    assert said.count(".") == 2, "what happens, and what to do"


@pytest.mark.parametrize(
    ("place", "ms", "begins"),
    [
        ((4, 3), 120, "Picks come late"),
        ((4, 3), -120, "Picks come early"),
        ((2, 8), 150, "Pedals and levers come late"),
        ((2, 8), -150, "Pedals and levers come early"),
        ((3, 5), -150, "Slides arrive early"),
    ],
)
def test_early_and_late(place: tuple[int, int], ms: float, begins: str) -> None:
    fault = "late" if ms > 0 else "early"
    (said,) = told(figure_of(LESSON, "1", {place: {"ms": ms, "faults": (fault,)}}))
    assert said.startswith(f"{begins} (once, by {abs(ms)} ms).")


def test_a_string_that_is_always_flat_wants_tuning_first() -> None:
    (said,) = told(figure_of(LESSON, "walk", {(1, 6): FLAT, (2, 6): FLAT, (3, 6): FLAT}))
    assert said.startswith("String 6 is flat by itself (3 times, by about 20 cents). Check its tuning")
    (said,) = told(figure_of(LESSON, "walk", {(1, 6): FLAT, (2, 6): FLAT}))
    assert said.startswith("Notes settle flat (twice")
