"""The results of a class as lines of JSON (one report each, UTF-8), as they are read back.

A line that cannot be read is left out: of a run that was killed the last one may be cut.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import msgspec
from msgspec import Struct

from livecheck.keeping.attempt import Attempt

RESULTS = "results.jsonl"
NOON = time(12)
"""Of a take only the day is known; it is said to have begun at noon."""


class TakeRecord(Struct, kw_only=True):
    """One take: its report, or why there is none."""

    key: str
    take: str
    student: str
    taken: date
    error: str = ""
    lasting: bool = True
    """False of an error that may not come again."""
    lesson: str = ""
    lesson_file: str = ""
    clean: bool = False
    tempo: float | None = None
    tuning_cents: float = 0.0
    figures_json: msgspec.Raw = msgspec.field(name="figures", default=msgspec.Raw(b"[]"))
    """As text: of an archive the values of all figures at once would take gigabytes."""
    work_on: list[str] = []

    @property
    def figures(self) -> list[dict[str, Any]]:
        """As in the report, and `mistakes`: their headlines, the worst first."""
        return msgspec.json.decode(self.figures_json, type=list[dict[str, Any]])


def read_results(path: Path) -> list[TakeRecord]:
    """All lines that can be read. OSError if the file cannot be."""
    return [record for _, record in results_with_places(path)]


def results_with_places(path: Path) -> Iterator[tuple[tuple[int, int], TakeRecord]]:
    """Each line that can be read: where it begins and how long it is, in bytes, and what it says."""
    decoder = msgspec.json.Decoder(TakeRecord)
    at = 0
    with open(path, "rb") as file:
        for line in file:
            place, at = (at, len(line)), at + len(line)
            try:
                yield place, decoder.decode(line)
            except msgspec.DecodeError:
                continue


def attempts_of(records: Iterable[TakeRecord]) -> list[Attempt]:
    """The figures that were found in takes as attempts, in order of time."""
    attempts = [
        Attempt(
            figure["figure"],
            figure["attempt"],
            datetime.combine(record.taken, NOON).astimezone() + timedelta(seconds=figure["start_s"] or 0.0),
            figure["start_s"] or 0.0,
            figure["clean"],
            provisional=False,
            gaps=0,
            verdict=json.dumps(figure),
            take=record.take,
        )
        for record in records
        for figure in record.figures
        if figure["found"]
    ]
    return sorted(attempts, key=lambda attempt: (attempt.began.date(), attempt.take, attempt.start_s))
