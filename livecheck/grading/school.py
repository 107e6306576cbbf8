"""A class graded: every job done or taken from an earlier run, then the table and the pages.

In: jobs, a folder for the results, something that does jobs. Out: the records, in the order of the jobs.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Protocol

from livecheck.errors import Unusable
from livecheck.grading.cores import Task
from livecheck.grading.job import Job, key_of
from livecheck.grading.results_folder import OVERVIEW, STUDENTS, TABLE, ResultsFolder
from livecheck.grading.table import table_of
from livecheck.grading.work import Result, failed
from livecheck.keeping.results import TakeRecord, attempts_of
from livecheck.keeping.trend import trend_of
from livecheck.pages.document import listed_items
from livecheck.pages.markup import Markup, element
from livecheck.pages.overview import overview_page
from livecheck.pages.take import takes_page
from livecheck.pages.weeks import weeks_page
from livecheck.reports.wording import plain

LEAST_DAYS = 2
"""On so many days a lesson has been played when there is something to say over time."""
LONGEST_SLUG = 40
TITLE = "The class"

Doer = Callable[[Sequence[Task]], Iterator[Result]]


class Teller(Protocol):
    """Is told how far a class is."""

    def looking(self, done: int, total: int) -> None:
        """So many files have been looked at, whether their results are there."""

    def at(self, done: int, total: int) -> None:
        """So many are graded of those that had to be."""


def grade_all(jobs: Sequence[Job], folder: ResultsFolder, do: Doer, tell: Teller) -> list[str]:
    """Do what is not done yet; the keys of all, in the jobs' order."""
    keys: list[str] = []
    tasks: dict[str, Task] = {}
    known = folder.known
    for looked, job in enumerate(jobs):
        tell.looking(looked, len(jobs))
        try:
            key = key_of(job)
        except Unusable as error:
            key = hashlib.sha256(job.name.encode("utf-8", "replace")).hexdigest()
            folder.add(key, failed(job, key, str(error).removeprefix(f"{job.path}: ")))
            known.add(key)
        keys.append(key)
        if key not in known:
            tasks[key] = (job, key)
    tell.at(0, len(tasks))
    for count, result in enumerate(do(list(tasks.values())), start=1):
        folder.add(result.record["key"], result)
        tell.at(count, len(tasks))
    return keys


def publish(keys: Iterable[str], folder: ResultsFolder, *, with_pages: bool = True) -> list[TakeRecord]:
    """Write the results in order, the table, and the pages."""
    records = folder.arrange(keys)
    folder.write(TABLE, "\ufeff" + table_of(records))
    students = dict.fromkeys(record.student for record in records if not record.error) if with_pages else {}
    pages = {student: f"{STUDENTS}/{slug(student)}.html" for student in students}
    own: dict[str, list[TakeRecord]] = {student: [] for student in pages}
    for record in sorted(records, key=lambda record: record.taken, reverse=True):
        if record.student in own and not record.error:
            own[record.student].append(record)
    for student, page in pages.items():
        sections = [Markup(folder.section(record.key)) for record in own[student]]
        folder.write(page, takes_page(plain(student), sections, _links(student, own[student], folder)))
    folder.write(OVERVIEW, overview_page(TITLE, records, pages))
    return records


def _links(student: str, own: Sequence[TakeRecord], folder: ResultsFolder) -> Markup:
    """Write the pages of lessons that a student played on several days; the way to them and to the whole class."""
    links = [element("a", "The whole class", href=f"../{OVERVIEW}")]
    for file, title in dict.fromkeys((record.lesson_file, record.lesson) for record in own):
        takes = [record for record in own if record.lesson_file == file]
        if len({record.taken for record in takes}) < LEAST_DAYS:
            continue
        attempts = attempts_of(takes)
        names = dict.fromkeys(figure["figure"] for record in reversed(takes) for figure in record.figures)
        trends = [(name, trend_of([attempt for attempt in attempts if attempt.figure == name])) for name in names]
        page = f"{slug(student)}-{slug(file)}-weeks.html"
        folder.write(f"{STUDENTS}/{page}", weeks_page(plain(title) or "Over weeks", plain(student), trends))
        links.append(element("a", f"{plain(title) or 'The lesson'} over weeks", href=page))
    return element("nav", listed_items(list(links)), aria_label="Other pages")


def slug(student: str) -> str:
    """A file's name for a student: letters that are safe anywhere, and a hash, as two names may have the same ones."""
    words = re.sub(r"[^a-z0-9]+", "-", student.casefold())[:LONGEST_SLUG].strip("-")
    return f"{words or 'student'}-{hashlib.sha256(student.encode('utf-8', 'replace')).hexdigest()[:8]}"
