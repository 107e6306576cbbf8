"""The results of a class as lines of JSON (one report each, UTF-8), as they are read back.

A line that cannot be read is left out: of a run that was killed the last one may be cut.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
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
    figures: list[dict[str, Any]] = []
    """As in the report, and `mistakes`: their headlines, the worst first."""
    work_on: list[str] = []


def read_results(path: Path) -> list[TakeRecord]:
    """All lines that can be read. OSError if the file cannot be."""
    return [record for _, record in results_with_lines(path)]


def results_with_lines(path: Path) -> Iterator[tuple[bytes, TakeRecord]]:
    """Each line that can be read, as it stands and as a record."""
    decoder = msgspec.json.Decoder(TakeRecord)
    with open(path, "rb") as file:
        for line in file:
            try:
                yield line, decoder.decode(line)
            except msgspec.DecodeError:
                continue


def attempts_of(records: Sequence[TakeRecord]) -> list[Attempt]:
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
