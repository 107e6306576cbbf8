"""The planted mistakes are plain, and a report that differs from them is told to."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, get_args

import pytest

from livecheck.demo.planted import compared, path_of, planted
from livecheck.judging.verdict import Extra, Fault
from livecheck.lesson.expectation import expect
from livecheck.sources.library import load_lesson

Report = dict[str, Any]


def report() -> Report:
    """A report that tells what was planted: `planted.json` has its shape."""
    return dict(json.loads(path_of("planted.json").read_text(encoding="utf-8")))


def test_there_are_six_kinds_and_more_and_no_two_in_one_place() -> None:
    kinds = {blemish.fault for blemish in planted()}
    assert kinds <= {*get_args(Fault), *get_args(Extra)}
    assert len(kinds) >= 6
    places = {(b.figure, b.attempt, b.step, b.at_s): b.fault for b in planted()}
    assert len(places) == len({(b.figure, b.attempt, b.step, b.at_s, b.fault) for b in planted()}) == 8


def test_each_is_at_a_checkpoint_of_the_lesson() -> None:
    lesson = load_lesson(str(path_of("lesson.toml")))
    there = {
        (figure.name, checkpoint.step, checkpoint.string, checkpoint.kind)
        for figure in lesson.figures
        for checkpoint in expect(figure, lesson.copedent).checkpoints
    }
    assert {(b.figure, b.step, b.string, b.kind) for b in planted() if b.step is not None} <= there
    assert {b.figure for b in planted()} == {figure.name for figure in lesson.figures}


def test_a_report_of_just_these_is_exact() -> None:
    outcome = compared(report())
    assert outcome.is_exact
    assert outcome.sentence == "8 mistakes were planted, 8 were found, nothing else."


def extra_later(told: Report) -> None:
    told["figures"][5]["extras"][0]["at_s"] += 0.4


def extra_elsewhere(told: Report) -> None:
    told["figures"][5]["extras"][0]["string"] = 6


def not_told(told: Report) -> None:
    told["figures"][2]["checkpoints"] = []


def told_of_one_string_only(told: Report) -> None:
    del told["figures"][1]["checkpoints"][0]


def named_otherwise(told: Report) -> None:
    told["figures"][3]["checkpoints"][0]["faults"] = ["wrong-note"]


def one_more_fault(told: Report) -> None:
    told["figures"][3]["checkpoints"][0]["faults"].append("late")


def told_twice(told: Report) -> None:
    told["figures"][5]["extras"] *= 2


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (not_told, "7 were found, nothing else. Not found: missed in figure grips, attempt 1, step 1."),
        (told_of_one_string_only, "7 were found, nothing else. Not found: flat in figure fall, attempt 1, step 3."),
        (one_more_fault, "8 were found, and what was not planted: late in figure grips, attempt 2, step 6."),
        (told_twice, "8 were found, and what was not planted: extra-pick in figure home, attempt 1, at 52.2 s."),
        (
            named_otherwise,
            (
                "7 were found, and what was not planted: wrong-note in figure grips, attempt 2, step 6. "
                "Not found: missed-move in figure grips, attempt 2, step 6."
            ),
        ),
        (
            extra_later,
            (
                "7 were found, and what was not planted: extra-pick in figure home, attempt 1, at 52.6 s. "
                "Not found: extra-pick in figure home, attempt 1, at 52.2 s."
            ),
        ),
        (
            extra_elsewhere,
            (
                "7 were found, and what was not planted: extra-pick in figure home, attempt 1, at 52.2 s. "
                "Not found: extra-pick in figure home, attempt 1, at 52.2 s."
            ),
        ),
    ],
)
def test_a_report_that_differs_is_told_to(change: Callable[[Report], None], said: str) -> None:
    told = report()
    change(told)
    outcome = compared(told)
    assert not outcome.is_exact
    assert outcome.sentence == f"8 mistakes were planted, {said}"


def test_the_files_are_small_and_there() -> None:
    sizes = {path.name: path.stat().st_size for path in Path(path_of("")).iterdir() if path.is_file()}
    assert {"lesson.toml", "planted.json", "take.ogg"} <= sizes.keys()
    assert sizes["take.ogg"] < 700_000
