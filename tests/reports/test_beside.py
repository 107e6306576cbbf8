"""How an attempt went, beside another one."""

from __future__ import annotations

import pytest

from livecheck.reports.beside import went
from tests.reports.verdicts import NOT_HEARD, figure_of, lesson_of

MISSED = {**NOT_HEARD, "faults": ("missed",)}


@pytest.mark.parametrize(
    ("missed", "said"),
    [({}, "clean"), (MISSED, "1 mistake"), ({**MISSED, "confidence": 0.4}, "unsure in 1 place")],
)
def test_what_is_not_sure_is_neither_a_mistake_nor_clean(missed: dict[str, object], said: str) -> None:
    figure = figure_of(lesson_of(), "walk", {(3, 6): missed})
    assert went(figure) == f"{said}, time off 0 ms, pitch off 0 cents"


def test_what_was_not_played_says_so() -> None:
    assert went(None) == "not played again"
    assert went(figure_of(lesson_of(), "walk", found=False)) == "not found"
