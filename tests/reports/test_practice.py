"""What is told in practice."""

from __future__ import annotations

import pytest

from livecheck.lesson.plan import Plan
from livecheck.reports.practice import by_ear


@pytest.mark.parametrize(
    ("outcome", "mistakes", "said"),
    [
        ("clean", [], "Clean."),
        ("nothing", [], "Not heard. Once more."),
        ("faulty", ["step 2: slide arrived 200 ms late", "and more"], "step 2: slide arrived 200 milliseconds late."),
        ("faulty", ["asked F#4"], "asked F sharp 4."),
    ],
)
def test_one_sentence_for_the_ear(outcome: str, mistakes: list[str], said: str) -> None:
    assert by_ear(outcome, mistakes) == said


def test_a_plan_says_how_many_clean_attempts_are_to_come() -> None:
    assert Plan.begin(2, 90.0, 90.0, 2).after(True).clean_to_go == 1
