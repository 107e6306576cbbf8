"""The folder that the results of a class are written to.

    results.jsonl    a line for each take: the report, or the error; written as takes are done
    results.csv      a line for each figure of each take, for a spreadsheet
    overview.html    who has which figure, what goes wrong most often
    students/        a page for each student
    .done/           the parts that pages are made of, and what was written

A run that was stopped goes on from there. What somebody else has put or changed in the folder is never written over
unless that is asked for.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from pathlib import Path

from livecheck.errors import Unusable
from livecheck.grading.work import Result
from livecheck.keeping.results import RESULTS, TakeRecord, read_results, results_with_places

TABLE, OVERVIEW, STUDENTS = "results.csv", "overview.html", "students"
DONE, WRITTEN = ".done", "written.json"


class ResultsFolder:
    """Unusable where the folder cannot be written to, or holds what is not of a run."""

    def __init__(self, path: Path, *, overwrite: bool) -> None:
        self.path = path
        self._overwrite = overwrite
        try:
            self._parts = path / DONE
            if path.exists() and any(path.iterdir()) and not self._parts.is_dir() and not overwrite:
                raise Unusable(
                    f"{path}: is there already and holds other files; wanted a new folder, an earlier run's, or "
                    "--overwrite"
                )
            self._parts.mkdir(parents=True, exist_ok=True)
            self._written: dict[str, str] = self._read_written()
            self._places = self._read_places()
            if not overwrite:
                self._check_unchanged()
            self._file = open(path / RESULTS, "ab")  # noqa: SIM115 -- closed by arrange and close
        except OSError as error:
            raise self._unwritable(error) from None

    @property
    def known(self) -> set[str]:
        """The keys of the results that are there."""
        return set(self._places)

    def add(self, key: str, result: Result) -> None:
        """Note a result; it is on the disk when this returns."""
        line = json.dumps(result.record, ensure_ascii=False, allow_nan=False).encode("utf-8", "replace") + b"\n"
        try:
            if result.section:
                self._replace(self._part(key), result.section.encode("utf-8", "replace"))
            place = self._file.tell(), len(line)
            self._file.write(line)
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as error:
            raise self._unwritable(error) from None
        self._places[key] = place

    def section(self, key: str) -> str:
        """A take's section of a page; nothing where there is none."""
        try:
            return self._part(key).read_text(encoding="utf-8")
        except FileNotFoundError:
            return ""
        except OSError as error:
            raise self._unwritable(error) from None

    def arrange(self, keys: Iterable[str]) -> list[TakeRecord]:
        """Let the results be those of these keys, in this order; the records of them."""
        path = self.path / RESULTS
        fresh = path.with_name(f".{path.name}.new")
        try:
            self._file.close()
            with open(path, "rb") as old, open(fresh, "wb") as new:
                for key in dict.fromkeys(keys):
                    at, length = self._places[key]
                    old.seek(at)
                    new.write(old.read(length))
            fresh.replace(path)
            return read_results(path)
        except OSError as error:
            raise self._unwritable(error) from None

    def write(self, name: str, text: str) -> Path:
        """Write a file below the folder, over its own earlier one only."""
        path = self.path / name
        data = text.encode("utf-8", "replace")
        try:
            if path.exists() and not self._overwrite and _hash(path.read_bytes()) != self._written.get(name):
                raise self._changed(name)
            path.parent.mkdir(exist_ok=True)
            self._replace(path, data)
            self._written[name] = _hash(data)
            self._replace(self._parts / WRITTEN, json.dumps(self._written, indent=1).encode())
        except OSError as error:
            raise self._unwritable(error) from None
        return path

    def close(self) -> None:
        self._file.close()

    def _part(self, key: str) -> Path:
        return self._parts / f"{key}.html"

    def _read_written(self) -> dict[str, str]:
        try:
            return {str(k): str(v) for k, v in json.loads((self._parts / WRITTEN).read_text(encoding="utf-8")).items()}
        except (FileNotFoundError, ValueError):
            return {}

    def _read_places(self) -> dict[str, tuple[int, int]]:
        """Where the results of an earlier run are, by their keys; a line that was cut is ended, so that the next one is
        whole."""
        path = self.path / RESULTS
        if not path.exists():
            return {}
        with open(path, "ab+") as file:
            if file.tell():
                file.seek(-1, os.SEEK_END)
                file.write(b"" if file.read(1) == b"\n" else b"\n")
        return {record.key: place for place, record in results_with_places(path) if record.lasting}

    def _check_unchanged(self) -> None:
        for name, known in self._written.items():
            path = self.path / name
            try:
                if path.exists() and _hash(path.read_bytes()) != known:
                    raise self._changed(name)
            except OSError as error:
                raise self._unwritable(error) from None

    def _changed(self, name: str) -> Unusable:
        return Unusable(
            f"{self.path / name}: is not as livecheck wrote it; wanted another folder, or --overwrite to write it anew"
        )

    def _unwritable(self, error: OSError) -> Unusable:
        return Unusable(f"{self.path}: cannot be written ({error.strerror}); wanted a folder for the results")

    @staticmethod
    def _replace(path: Path, data: bytes) -> None:
        """Write a file as a whole or not at all."""
        fresh = path.with_name(f".{path.name}.new")
        fresh.write_bytes(data)
        fresh.replace(path)


def _hash(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
