"""Lessons, copedents, tolerances and inputs, by name or by path.

A name stands for a file that comes with livecheck (`configs/KIND/NAME.toml`); anything else is a path, relative to the
file that says it, or to the folder that the call was made in.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

from livecheck.errors import Unusable
from livecheck.hearing.midi.input import MidiInput
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Lesson
from livecheck.lesson.pitch import name_of
from livecheck.lesson.reading import read_copedent, read_lesson
from livecheck.lesson.tolerances import Tolerances
from livecheck.sources.file import read_text
from livecheck.sources.input_file import read_input
from livecheck.sources.tolerance_file import read_tolerances

HERE = Path()


def configs_folder() -> Path:
    """The files that come with livecheck: inside the package once installed, beside it in a checkout."""
    package = Path(str(files("livecheck")))
    inside = package / "configs"
    return inside if inside.is_dir() else package.parent / "configs"


def names_of(kind: str) -> list[str]:
    """Names of the files of a kind ("copedents", "tolerances", "inputs") that come with livecheck."""
    return sorted(path.stem for path in (configs_folder() / kind).glob("*.toml"))


def load_lesson(path: str) -> Lesson:
    """A lesson with its copedent."""

    def copedent_for(named: str) -> Copedent:
        with said_by(f"{path}: copedent"):
            return load_copedent(named, Path(path).parent)

    return read_lesson(read_text(path, "a lesson file"), path, copedent_for)


def load_copedent(named: str, beside: Path = HERE) -> Copedent:
    """A copedent by name, or by a path relative to the folder `beside`."""
    path = _find("copedents", named, beside)
    return read_copedent(read_text(path, "a copedent file"), str(path))


def load_tolerances(named: str, beside: Path = HERE) -> Tolerances:
    """Tolerances by name, or by a path relative to the folder `beside`."""
    path = _find("tolerances", named, beside)
    return read_tolerances(read_text(path, "a tolerance file"), str(path))


def load_input(named: str, beside: Path = HERE) -> MidiInput:
    """A MIDI input by name, or by a path relative to the folder `beside`."""
    path = _find("inputs", named, beside)
    return read_input(read_text(path, "an input file"), str(path))


def lesson_tolerances(lesson: Lesson, path: str) -> Tolerances:
    """The tolerances that a lesson read from `path` names."""
    with said_by(f"{path}: tolerances"):
        return load_tolerances(lesson.tolerances, Path(path).parent)


def on_instrument(lesson: Lesson, named: str) -> Lesson:
    """The lesson on the player's own instrument, by name or path: the same strings and changes, its own cents."""
    own = load_copedent(named)
    _check_same(lesson.copedent, own, named)
    return replace(lesson, copedent=own, copedent_name=named)


def on_measured_instrument(lesson: Lesson, path: Path) -> Lesson:
    """The lesson on an instrument that was measured; as it is if that has other strings or changes."""
    own = load_copedent(str(path))
    try:
        _check_same(lesson.copedent, own, str(path))
    except Unusable:
        return lesson
    return replace(lesson, copedent=own)


@contextmanager
def said_by(where: str) -> Iterator[None]:
    """Says in a message which file or option asked for what cannot be used."""
    try:
        yield
    except Unusable as error:
        raise Unusable(f"{where}: {error}") from None


def _find(kind: str, named: str, beside: Path) -> Path:
    known = names_of(kind)
    if named in known:
        return configs_folder() / kind / f"{named}.toml"
    if named.endswith(".toml") or "/" in named or "\\" in named or os.path.isfile(beside / named):
        return beside / named
    raise Unusable(f'there is no "{named}"; wanted {", ".join(known)}, or the path of a .toml file')


def _check_same(lessons: Copedent, own: Copedent, where: str) -> None:
    """Unusable unless both have the same strings and changes, but for cents."""

    def differs(what: str, wanted: str) -> Unusable:
        return Unusable(f"{where}: {what}; wanted {wanted}, as in the lesson's copedent")

    if len(own.strings) != len(lessons.strings):
        raise differs(f"has {len(own.strings)} strings", str(len(lessons.strings)))
    if own.changes.keys() != lessons.changes.keys():
        raise differs(f"has the changes {_listed(own)}", _listed(lessons))
    for string, (has, wanted) in enumerate(zip(own.strings, lessons.strings, strict=True), start=1):
        if abs(has - wanted) >= 1.0:
            raise differs(f"string {string} is {name_of(has)}", name_of(wanted))
    for name, pulls in lessons.changes.items():
        for string in sorted(pulls.keys() | own.changes[name].keys()):
            has, wanted = own.changes[name].get(string, 0.0), pulls.get(string, 0.0)
            if abs(has - wanted) >= 0.5:
                raise differs(f"{name} moves string {string} by {has:g} semitones", f"about {wanted:g}")


def _listed(copedent: Copedent) -> str:
    return ", ".join(sorted(copedent.changes)) or "none"
