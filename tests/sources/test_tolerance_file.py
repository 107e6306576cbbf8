"""Tolerance files."""

from __future__ import annotations

from dataclasses import asdict

import pytest

from livecheck.errors import Unusable
from livecheck.lesson.tolerances import Tolerances
from livecheck.sources.library import load_tolerances
from livecheck.sources.tolerance_file import read_tolerances

STANDARD = Tolerances(
    cents=15, wrong_note_cents=60, pick_ms=80, arrival_ms=100, gap_share=0.25, short_share=0.5, rang_on_ms=250
)


def written(**changed: object) -> str:
    values = {"format": 1, **asdict(STANDARD), **changed}
    return "\n".join(f"{key} = {value}" for key, value in values.items() if value is not None)


def test_the_standard_ones_are_these() -> None:
    assert load_tolerances("standard") == STANDARD


def test_strict_and_relaxed_lie_on_either_side() -> None:
    strict, relaxed = load_tolerances("strict"), load_tolerances("relaxed")
    assert (strict.cents, strict.wrong_note_cents, strict.pick_ms, strict.arrival_ms) == (8, 60, 40, 50)
    assert strict.cents < STANDARD.cents < relaxed.cents
    assert strict.pick_ms < STANDARD.pick_ms < relaxed.pick_ms
    assert strict.arrival_ms < STANDARD.arrival_ms < relaxed.arrival_ms
    assert strict.rang_on_ms <= STANDARD.rang_on_ms < relaxed.rang_on_ms
    assert strict.gap_share <= STANDARD.gap_share < relaxed.gap_share < 0.5
    assert strict.short_share >= STANDARD.short_share > relaxed.short_share


def test_eight_cents_beat_twice_a_second_at_a4() -> None:
    # As strict.toml says: beats are the difference of two frequencies, a cent is a ratio of 2^(1/1200).
    assert 440.0 * (2.0 ** (load_tolerances("strict").cents / 1200.0) - 1.0) == pytest.approx(2.0, abs=0.1)


def test_a_file_is_read_as_it_is_written() -> None:
    assert read_tolerances(written(cents=12.5), "own.toml") == Tolerances(12.5, 60, 80, 100, 0.25, 0.5, 250)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"cents": 0}, "cents is 0; wanted a finite number above zero"),
        ({"pick_ms": -1}, "pick_ms is -1; wanted a finite number above zero"),
        ({"arrival_ms": "inf"}, "arrival_ms is inf; wanted a finite number"),
        ({"rang_on_ms": "nan"}, "rang_on_ms is nan; wanted a finite number"),
        ({"gap_share": 1.5}, "gap_share is 1.5; wanted a share, at most 1"),
        ({"cents": 60}, "wrong_note_cents is 60; wanted more than cents, which is 60"),
        ({"cents": '"few"'}, "cents"),
        ({"cent": 3}, "cent"),
        ({"short_share": None}, "short_share"),
        ({"format": None}, "format"),
        ({"format": 2}, "format"),
    ],
)
def test_a_mistake_says_where_and_what(changed: dict[str, object], said: str) -> None:
    with pytest.raises(Unusable, match=rf"^own\.toml: .*{said}"):
        read_tolerances(written(**changed), "own.toml")
