"""The overview of a class and the page of weeks: what they say, read by Python's own HTML parser."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import msgspec

from livecheck.keeping.results import TakeRecord, attempts_of
from livecheck.keeping.trend import trend_of
from livecheck.pages.overview import overview_page
from livecheck.pages.weeks import weeks_page
from tests.pages.test_markup import HOSTILE, read


def record(student: str, day: int, mistakes: dict[str, list[str]], *, late_ms: float = 0.0) -> TakeRecord:
    """A take with two figures; a figure's mistakes are all "late" at step 2."""
    figures: list[dict[str, Any]] = []
    for name in ("one", "two"):
        wrong = mistakes.get(name, [])
        checkpoint: dict[str, Any] = {
            "step": 2,
            "string": 5,
            "judged": True,
            "timing_ms": late_ms,
            "cents": 3.0,
            "cause": None,
        }
        checkpoint["faults"] = ["late"] if wrong else []
        figures.append(
            {"figure": name, "attempt": 1, "found": True, "clean": not wrong, "start_s": 1.0, "tempo": 80.0,
             "checkpoints": [checkpoint], "extras": [], "mistakes": wrong}
        )  # fmt: skip
    return TakeRecord(
        key=f"{student}{day}", take=f"{student}.wav", student=student, taken=date(2026, 11, day), lesson="Waltz",
        lesson_file="waltz", clean=not mistakes, figures_json=msgspec.Raw(msgspec.json.encode(figures)),
    )  # fmt: skip


def cells(page: str) -> list[list[str]]:
    rows = re.findall(r"<tr>(.*?)</tr>", page, re.DOTALL)
    return [[re.sub(r"<[^>]+>", "", cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row)] for row in rows]


def test_the_last_take_of_each_counts() -> None:
    records = [record("Bo", 3, {"one": ["x", "y"]}), record("Ann", 10, {}), record("Ann", 3, {"two": ["x"]})]
    page = overview_page("The class", records, {"Ann": "students/ann.html"})
    assert cells(page) == [
        ["student", "day", "one", "two"],
        ["Ann", "2026-11-10", "clean", "clean"],
        ["Bo", "2026-11-03", "2 mistakes", "clean"],
        ["clean", "", "1 of 2", "2 of 2"],
    ]
    assert page.count("<a ") == 1
    assert "1 of 2 students: figure one, step 2, string 5: late" in read(page).text


def test_hostile_names_are_text_in_an_overview() -> None:
    records = [record(name, 3, {"one": [name]}) for name in HOSTILE]
    tags = {tag for tag, _ in read(overview_page("The class", records, {})).tags}
    assert not tags & {"script", "img", "b", "a"}


def test_weeks_become_curves_with_their_numbers() -> None:
    records = [record("Ann", day, {"one": ["x"]} if day < 20 else {}, late_ms=float(100 - day)) for day in (3, 10, 24)]
    attempts = [attempt for attempt in attempts_of(records) if attempt.figure == "one"]
    page = weeks_page("Waltz", "Ann", [("one", trend_of(attempts)), ("two", trend_of([]))])
    titles = re.findall(r"<title id[^>]*>(.*?)</title>", page)
    assert titles[0] == "time off, in the middle: from 97 ms on 2026-11-03 to 76 ms on 2026-11-24"
    assert titles[2] == "clean attempts: from 0 % on 2026-11-03 to 100 % on 2026-11-24"
    assert page.count('class="dot"') == 9
    places = [float(x) for x in re.findall(r'class="dot" cx="([\d.]+)"', page)][:3]
    assert (places[2] - places[0]) / (places[1] - places[0]) == 3.0
    assert "Not tried yet." in page
