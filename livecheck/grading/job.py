"""A take of a class as a piece of work: which file, whose, against which lessons; and the key that its result has.

The key is a hash (SHA-256) of the take's content and of everything that it is judged by, so that a result is taken from
an earlier run exactly where it would come out the same.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date

import livecheck
from livecheck.grading.take import Asked
from livecheck.sources.file import open_for_reading, unreadable
from livecheck.sources.take_file import TAKE

BLOCK_BYTES = 1 << 20


@dataclass(frozen=True)
class Candidate:
    """One lesson that a take may be of."""

    stem: str
    """Its file's name, without the ending."""
    asked: Asked


@dataclass(frozen=True)
class Job:
    path: str
    name: str
    """What the take is called: its path below the folder that was given, without that folder's own path."""
    student: str
    taken: date
    """The day in the file's name, else the day on which the file was last written."""
    lessons: tuple[Candidate, ...]
    """One; or several, of which the one that was played is to be found."""
    with_page: bool = True


def key_of(job: Job) -> str:
    """The key of a job's result. Unusable if the take cannot be read, or is no file: a pipe may never end."""
    digest = hashlib.sha256(livecheck.__version__.encode())
    for part in (job.student, job.taken, job.name, job.with_page, *job.lessons):
        digest.update(_canonical(part).encode() + b"\0")
    try:
        with open(open_for_reading(job.path, TAKE), "rb") as file:
            while block := file.read(BLOCK_BYTES):
                digest.update(block)
    except OSError as error:
        raise unreadable(job.path, error, TAKE) from None
    return digest.hexdigest()


def _canonical(value: object) -> str:
    """A text that is the same for the same value in every process: sets and mappings in order of their texts."""
    if is_dataclass(value) and not isinstance(value, type):
        return f"{type(value).__name__}({','.join(_canonical(getattr(value, field.name)) for field in fields(value))})"
    if isinstance(value, Mapping):
        return f"{{{','.join(sorted(f'{_canonical(key)}:{_canonical(of)}' for key, of in value.items()))}}}"
    if isinstance(value, frozenset):
        return f"{{{','.join(sorted(map(_canonical, value)))}}}"
    if isinstance(value, Iterable) and not isinstance(value, str):
        return f"[{','.join(map(_canonical, value))}]"
    return repr(value)
