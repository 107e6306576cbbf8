"""Lessons, copedents, tolerances and inputs, by name or by path.

A name stands for a file that comes with livecheck (`configs/KIND/NAME.toml`); anything else is a path, relative to the
file that says it, or to the folder that the call was made in.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

from livecheck.errors import Unusable
from livecheck.hearing.midi_input import MidiInput
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Lesson
from livecheck.lesson.pitch import name_of
from livecheck.lesson.reading import read_copedent, read_lesson
from livecheck.lesson.tolerances import Tolerances
from livecheck.sources.file import read_text
from livecheck.sources.input_file import read_input
from livecheck.sources.tolerance_file import read_tolerances

HERE = Path()
DEFAULT_INPUT = "channel-per-string"


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
        with _said_by(f"{path}: copedent"):
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
    with _said_by(f"{path}: tolerances"):
        return load_tolerances(lesson.tolerances, Path(path).parent)


def on_instrument(lesson: Lesson, named: str) -> Lesson:
    """The lesson on the player's own instrument, a copedent by name or path: the same strings and changes, its own cents."""
    own = load_copedent(named)
    _check_same(lesson.copedent, own, named)
    return replace(lesson, copedent=own, copedent_name=named)


def _find(kind: str, named: str, beside: Path) -> Path:
    known = names_of(kind)
    if named in known:
        return configs_folder() / kind / f"{named}.toml"
    if named.endswith(".toml") or "/" in named or "\\" in named or (beside / named).is_file():
        return beside / named
    raise Unusable(f'there is no "{named}"; wanted {", ".join(known)}, or the path of a .toml file')


def _check_same(theirs: Copedent, own: Copedent, where: str) -> None:
    if len(own.strings) != len(theirs.strings):
        raise Unusable(f"{where}: has {len(own.strings)} strings; wanted {len(theirs.strings)}, as the lesson's copedent has")
    if own.changes.keys() != theirs.changes.keys():
        raise Unusable(f"{where}: has the changes {_listed(own)}; wanted {_listed(theirs)}, as the lesson's copedent has")
    for string, (mine, wanted) in enumerate(zip(own.strings, theirs.strings, strict=True), start=1):
        if abs(mine - wanted) >= 1.0:
            raise Unusable(f"{where}: string {string} is {name_of(mine)}; wanted {name_of(wanted)}, as in the lesson's copedent")
    for name, pulls in theirs.changes.items():
        for string in sorted(pulls.keys() | own.changes[name].keys()):
            mine, wanted = own.changes[name].get(string, 0.0), pulls.get(string, 0.0)
            if abs(mine - wanted) >= 0.5:
                raise Unusable(
                    f"{where}: {name} moves string {string} by {mine:g} semitones; wanted about {wanted:g}, as in the lesson's copedent"
                )


def _listed(copedent: Copedent) -> str:
    return ", ".join(sorted(copedent.changes)) or "none"


@contextmanager
def _said_by(where: str) -> Iterator[None]:
    """Says in a message which file asked for what cannot be used."""
    try:
        yield
    except Unusable as error:
        raise Unusable(f"{where}: {error}") from None
