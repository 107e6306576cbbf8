"""What is told in practice."""

from __future__ import annotations

import pytest

from livecheck.lesson.plan import Plan
from livecheck.reports.practice import by_ear, mistakes_told, verdict_in_large
from tests.reports.verdicts import NOT_HEARD, figure_of, lesson_of, take_of


@pytest.mark.parametrize(
    ("outcome", "mistakes", "said"),
    [
        ("clean", [], "Clean."),
        ("nothing", [], "Not heard. Once more."),
        ("faulty", ["step 2: slide arrived 200 ms late", "and more"], "step 2: slide arrived 200 milliseconds late."),
        ("faulty", [], "Unsure. Once more."),
        ("faulty", ["asked F#4"], "asked F sharp 4."),
    ],
)
def test_one_sentence_for_the_ear(outcome: str, mistakes: list[str], said: str) -> None:
    assert by_ear(outcome, mistakes) == said


def test_where_all_was_found_but_not_sure_nothing_is_said_to_be_missing() -> None:
    wrong = {(3, 6): {**NOT_HEARD, "faults": ("missed",), "confidence": 0.4}}
    plan = Plan.begin(2, 90.0, 90.0, 2)
    assert verdict_in_large(take_of(figure_of(lesson_of(), "walk", wrong)), plan, plan) == "unsure in 1 place"
    assert verdict_in_large(take_of(figure_of(lesson_of(), "walk", found=False)), plan, plan) == "1 figure not found"


def test_a_plan_says_how_many_clean_attempts_are_to_come() -> None:
    assert Plan.begin(2, 90.0, 90.0, 2).after(True).clean_to_go == 1


def test_in_the_review_of_several_figures_each_mistake_says_whose_it_is() -> None:
    wrong = {(3, 6): {**NOT_HEARD, "faults": ("missed",)}}
    lesson = lesson_of()
    figure = figure_of(lesson, "walk", wrong)
    (alone,) = mistakes_told(take_of(figure), lesson.copedent)
    assert alone.startswith("step 3, string 6: ")
    assert mistakes_told(take_of(figure, figure_of(lesson, "walk")), lesson.copedent) == [f"walk, {alone}"]
