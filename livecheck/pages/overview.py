"""A class on a page: who has which figure, what goes wrong most often, what could not be graded.

In: the records of takes, and the page of each student. Out: an HTML document. Of several takes of a student the last
one of a lesson counts.
"""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from livecheck.keeping.results import TakeRecord
from livecheck.keeping.trend import flaws_of
from livecheck.pages.document import document, listed_items, table
from livecheck.pages.markup import Content, Markup, element, joined
from livecheck.reports.wording import counted, numbered, plain

MOST_FLAWS = 8
"""More are not worked on in a lesson."""


Figures = list[dict[str, Any]]
"""Those of one student's last take."""


@dataclass(frozen=True)
class _Flaw:
    figure: str
    step: int | None
    what: str


def overview_page(title: str, records: Sequence[TakeRecord], pages: Mapping[str, str]) -> str:
    """The page. `pages`: student -> the address of the student's page, relative to this one."""
    graded = [record for record in records if not record.error]
    failed = [record for record in records if record.error]
    lessons = list(dict.fromkeys((record.lesson_file, record.lesson) for record in graded))
    return document(
        title,
        element("header", element("h1", title), element("p", _counts(records), class_="verdict")),
        element(
            "main",
            *(_lesson(name, [r for r in graded if r.lesson_file == file], pages) for file, name in lessons),
            _not_graded(failed),
        ),
    )


def _counts(records: Sequence[TakeRecord]) -> str:
    clean = sum(record.clean for record in records)
    failed = sum(bool(record.error) for record in records)
    students = counted(len({record.student for record in records}), "student")
    told = [(clean, "clean"), (len(records) - clean - failed, "not clean"), (failed, "not graded")]
    counts = ", ".join(f"{count} {what}" for count, what in told if count)
    return f"{counted(len(records), 'take')} of {students}: {counts}"


def _lesson(title: str, records: Sequence[TakeRecord], pages: Mapping[str, str]) -> Markup:
    latest: dict[str, TakeRecord] = {}
    for record in sorted(records, key=lambda record: record.taken):
        latest[record.student] = record
    figures = {student: record.figures for student, record in latest.items()}
    every = list(figures.values())
    names = list(dict.fromkeys(figure["figure"] for several in every for figure in several))
    rows: list[tuple[Content, ...]] = [
        (_link(student, pages), record.taken.isoformat(), *(_cell(figures[student], name) for name in names))
        for student, record in sorted(latest.items(), key=lambda pair: _alphabetic(pair[0]))
    ]
    has: list[Content] = [_share(name, every) for name in names]
    flaws = _common(every)
    return element(
        "section",
        element("h2", plain(title) or "untitled"),
        joined([element("h3", "Wrong most often"), listed_items(flaws, ordered=True)]) if flaws else None,
        element("h3", "Who has which figure"),
        table(
            "Each student's last take, by figure",
            ("student", "day", *map(plain, names)),
            [*rows, (element("em", "clean"), "", *has)],
        ),
    )


def _alphabetic(name: str) -> str:
    """Letters with signs stand beside those without."""
    return "".join(c for c in unicodedata.normalize("NFKD", name.casefold()) if not unicodedata.combining(c))


def _link(student: str, pages: Mapping[str, str]) -> Markup:
    name = plain(student) or "no name"
    return element("a", name, href=pages[student]) if student in pages else joined([name])


def _cell(figures: Figures, name: str) -> Content:
    tried = [figure for figure in figures if figure["figure"] == name and figure["found"]]
    if not tried:
        return "not found"
    if any(figure["clean"] for figure in tried):
        return "clean" if len(tried) == 1 else f"clean, {sum(f['clean'] for f in tried)} of {len(tried)} times"
    fewest = min(len(figure.get("mistakes", [])) for figure in tried)
    return element("strong", counted(fewest, "mistake")) if fewest else "unsure"


def _share(name: str, every: Sequence[Figures]) -> str:
    clean = sum(any(f["clean"] for f in figures if f["figure"] == name) for figures in every)
    return f"{clean} of {len(every)}"


def _common(every: Sequence[Figures]) -> list[Content]:
    """What goes wrong for most students: each counts once."""
    counts: Counter[_Flaw] = Counter()
    strings: dict[_Flaw, set[int]] = {}
    for figures in every:
        own = {}
        for figure in figures:
            own.update(_flaws(figure))
        counts.update(own.keys())
        for flaw, on in own.items():
            strings.setdefault(flaw, set()).update(on)
    return [
        f"{count} of {counted(len(every), 'student')}: {_words(flaw, strings[flaw])}"
        for flaw, count in counts.most_common(MOST_FLAWS)
    ]


def _flaws(figure: dict[str, Any]) -> dict[_Flaw, tuple[int, ...]]:
    return {_Flaw(figure["figure"], step, what): strings for (step, what), strings in flaws_of(figure)}


def _words(flaw: _Flaw, strings: set[int]) -> str:
    where = [f"figure {plain(flaw.figure)}"]
    where += [] if flaw.step is None else [f"step {flaw.step}"]
    where += [numbered("string", strings)] if strings else []
    return f"{', '.join(where)}: {plain(flaw.what)}"


def _not_graded(failed: Sequence[TakeRecord]) -> Markup | None:
    if not failed:
        return None
    items: list[Content] = [f"{plain(record.take)}: {plain(record.error)}" for record in failed]
    return element("section", element("h2", "Not graded"), listed_items(items))
