"""All attempts with their verdicts, in an SQLite database.

What has been written is there whatever happens to the process (write-ahead log) or to the machine (every transaction is
waited for until the disk has it).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from livecheck.errors import Unusable
from livecheck.keeping.attempt import Attempt

VERSION = 1
_TABLES = (
    """CREATE TABLE IF NOT EXISTS take (
        id INTEGER PRIMARY KEY, lesson TEXT NOT NULL, source TEXT NOT NULL, began TEXT NOT NULL, path TEXT NOT NULL)""",
    """CREATE TABLE IF NOT EXISTS attempt (
        take INTEGER NOT NULL REFERENCES take, figure TEXT NOT NULL, number INTEGER NOT NULL, began TEXT NOT NULL,
        start_s REAL NOT NULL, clean INTEGER NOT NULL, provisional INTEGER NOT NULL, gaps INTEGER NOT NULL,
        verdict TEXT NOT NULL, PRIMARY KEY (take, figure, number))""",
    "CREATE INDEX IF NOT EXISTS of_lesson ON take (lesson)",
)


class Notebook:
    """The database in a file. Every method raises `sqlite3.Error` if it cannot be used."""

    def __init__(self, path: Path) -> None:
        self._database = sqlite3.connect(path, isolation_level=None)
        self._database.execute("PRAGMA journal_mode = WAL")
        self._database.execute("PRAGMA synchronous = FULL")
        (version,) = self._database.execute("PRAGMA user_version").fetchone()
        if version > VERSION:
            self.close()
            raise Unusable(f"{path}: was written by a newer livecheck; wanted its format {VERSION}, it has {version}")
        for table in _TABLES:
            self._database.execute(table)
        self._database.execute(f"PRAGMA user_version = {VERSION}")

    def begin(self, lesson: str, source: str, began: datetime, path: str) -> int:
        """Note a new take of a lesson, and give its number."""
        values = (lesson, source, _text(began), path)
        cursor = self._database.execute("INSERT INTO take (lesson, source, began, path) VALUES (?, ?, ?, ?)", values)
        return int(cursor.lastrowid or 0)

    def same_or_new(self, lesson: str, source: str, began: datetime, path: str) -> int:
        """The number of a take that was noted before with all of this the same, else of a new one."""
        row = self._database.execute(
            "SELECT id FROM take WHERE lesson = ? AND source = ? AND began = ? AND path = ?",
            (lesson, source, _text(began), path),
        ).fetchone()
        return self.begin(lesson, source, began, path) if row is None else int(row[0])

    def keep(self, take: int, attempts: Sequence[Attempt]) -> None:
        """Note attempts of a take, all or none; what was noted of the same ones is replaced."""
        self._write(take, attempts, "")

    def revise(self, take: int, attempts: Sequence[Attempt]) -> None:
        """Let these be all attempts of a take."""
        self._write(take, attempts, "DELETE FROM attempt WHERE take = ?")

    def attempts(self, lesson: str) -> list[Attempt]:
        """All attempts at a lesson, by its title, in order of time. ValueError if a time is none."""
        rows = self._database.execute(
            "SELECT figure, number, attempt.began, start_s, clean, provisional, gaps, verdict, path "
            "FROM attempt JOIN take ON take.id = attempt.take WHERE lesson = ? "
            "ORDER BY attempt.began, take, start_s, figure",
            (lesson,),
        )
        return [
            Attempt(
                figure, number, datetime.fromisoformat(began), start_s, bool(clean), bool(told), gaps, verdict, path
            )
            for figure, number, began, start_s, clean, told, gaps, verdict, path in rows
        ]

    def close(self) -> None:
        self._database.close()

    def _write(self, take: int, attempts: Sequence[Attempt], first: str) -> None:
        rows = [
            (take, a.figure, a.number, _text(a.began), a.start_s, a.clean, a.provisional, a.gaps, a.verdict)
            for a in attempts
        ]
        with closing(self._database.cursor()) as cursor:
            cursor.execute("BEGIN IMMEDIATE")
            try:
                if first:
                    cursor.execute(first, (take,))
                cursor.executemany("INSERT OR REPLACE INTO attempt VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)
                cursor.execute("COMMIT")
                cursor.execute("PRAGMA shrink_memory")  # what was written is not read again while a take goes on
            except sqlite3.Error:
                if self._database.in_transaction:
                    cursor.execute("ROLLBACK")
                raise


def _text(moment: datetime) -> str:
    """Universal time, to the millisecond, so that texts are in order of time."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds")
