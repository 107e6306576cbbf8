"""Whose take a file is, of which day, of which lesson: from its name and its folder.

    FOLDER/Anna/2026-11-03 waltz.wav     Anna's, of 3 November 2026, of the lesson waltz.toml
    FOLDER/2026-11-03.wav                the folder's own name says whose
    FOLDER/anna_waltz_take2.wav          anna's, of the day on which it was last written

A student's folder names the student; without one the file's name does, what names the day, the lesson and the number of
the take left out. A lesson is known by its file's name or its title, the longest that fits.
"""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path, PurePath

from livecheck.errors import Unusable
from livecheck.grading.job import Candidate, Job
from livecheck.keeping.results import NOON
from livecheck.sources.file import unreadable

ENDINGS = frozenset({".wav", ".flac", ".ogg", ".oga", ".mp3", ".aif", ".aiff", ".aifc", ".mid", ".midi"})
_DAY = re.compile(r"(?<!\d)(20\d\d)[-_.]?([01]\d)[-_.]?([0-3]\d)(?!\d)")
_NUMBER = re.compile(r"\btake\s*\d*\b")


@dataclass(frozen=True)
class Found:
    """A file that may be a take."""

    path: str
    name: str
    """Below the folder that was given, parts divided by "/"; of a file that was given itself, its own name."""
    above: str = ""
    """The folder that it lies in or below, as it was given: the student's, where nothing else says whose take it is."""


def found_in(paths: Sequence[str]) -> list[Found]:
    """The files given, and those in the folders given that sound or MIDI files have the endings of, in order of their
    names; hidden ones are left out, and links to other folders are not followed. Unusable if there are none, or a
    folder cannot be read: its takes would be left out silently."""
    found: list[Found] = []
    for path in paths:
        whole_path = os.path.abspath(path)
        if not os.path.isdir(path):
            above = readable(os.path.basename(os.path.dirname(whole_path)))
            found.append(Found(path, readable(os.path.basename(path)), above))
            continue
        above = readable(os.path.basename(whole_path))
        for folder, folders, files in os.walk(path, onerror=_refuse):
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            for file in sorted(files):
                whole = os.path.join(folder, file)
                is_take = PurePath(file).suffix.lower() in ENDINGS and not file.startswith(".")
                if is_take and not os.path.islink(whole):
                    found.append(Found(whole, readable(os.path.relpath(whole, path).replace(os.sep, "/")), above))
    if not found:
        raise Unusable(f"{paths[0]}: has no take in it; wanted files that end in {', '.join(sorted(ENDINGS))}")
    return found


def _refuse(error: OSError) -> None:
    raise unreadable(readable(error.filename), error, "a folder of takes")


def job_of(found: Found, lessons: Sequence[Candidate], *, with_page: bool = True) -> Job:
    """The job that a file is, against the lesson that its name names, or else any of them."""
    words = _words(found.name)
    fitting = [(len(name), lesson) for lesson in lessons for name in _names(lesson) if f" {name} " in f" {words} "]
    longest = max((length for length, _ in fitting), default=0)
    named = list(dict.fromkeys(lesson.stem for length, lesson in fitting if length == longest))
    possible = [lesson for lesson in lessons if lesson.stem in named] if len(named) == 1 else list(lessons)
    return Job(
        found.path,
        found.name,
        _student(found, lessons),
        taken_at(found.path, found.name).date(),
        tuple(possible),
        with_page,
    )


def readable(name: str) -> str:
    """A file's name as text; bytes that are no text are replaced."""
    return os.fsencode(name).decode("utf-8", "replace")


def _student(found: Found, lessons: Sequence[Candidate]) -> str:
    *folders, file = found.name.split("/")
    own = [folder for folder in folders if _without_lesson(_words(folder), lessons)]
    if own:
        return own[0]
    stem = _DAY.sub(" ", PurePath(file).stem)
    bare = _without_lesson(_words(stem), lessons)
    spoken = [word for word in re.split(r"[\s_.\-]+", stem) if _words(word) and _words(word) in bare.split()]
    return " ".join(spoken) or found.above or PurePath(file).stem


def _without_lesson(words: str, lessons: Sequence[Candidate]) -> str:
    """Words without those that name a lesson or number a take."""
    padded = f" {_NUMBER.sub(' ', words)} "
    for name in sorted({name for lesson in lessons for name in _names(lesson)}, key=len, reverse=True):
        padded = padded.replace(f" {name} ", " ")
    return " ".join(padded.split())


def _names(lesson: Candidate) -> list[str]:
    return [name for name in (_words(lesson.stem), _words(lesson.asked.brief.lesson.title)) if name]


def _words(text: str) -> str:
    """Letters and digits in lower case, anything else a blank."""
    folded = unicodedata.normalize("NFKC", text).casefold()
    return " ".join("".join(c if c.isalnum() else " " for c in folded).split())


def taken_at(path: str, name: str) -> datetime:
    """When a take was played: noon of the day in its name, else when the file was last written."""
    for match in reversed(list(_DAY.finditer(name))):
        try:
            return datetime.combine(date(*map(int, match.groups())), NOON).astimezone()
        except (ValueError, OverflowError):
            continue
    try:
        return datetime.fromtimestamp(Path(path).stat().st_mtime).astimezone()
    except (OSError, ValueError, OverflowError):
        return datetime(1970, 1, 1, tzinfo=UTC)
