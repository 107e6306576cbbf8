"""The planted mistakes, and how a report compares with them.

In: the report on the bundled take as plain values (`livecheck.reports.document`); `planted.json` has its shape, so both
are read alike. Out: an `Outcome`. A mistake is one fault at one step, on however many strings; each thing that was not
asked for is one of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path

import msgspec

WITHIN_S = 0.15
"""Further off in time, something that was not asked for is something else."""


class _Checkpoint(msgspec.Struct):
    step: int
    string: int
    kind: str
    faults: tuple[str, ...]


class _Extra(msgspec.Struct):
    fault: str
    string: int | None
    at_s: float


class _Figure(msgspec.Struct):
    figure: str
    attempt: int
    checkpoints: tuple[_Checkpoint, ...]
    extras: tuple[_Extra, ...]


class _Report(msgspec.Struct):
    figures: tuple[_Figure, ...]


@dataclass(frozen=True)
class Blemish:
    """One fault on one string, or one thing that was not asked for."""

    figure: str
    attempt: int
    fault: str
    string: int | None
    step: int | None = None
    kind: str | None = None
    at_s: float | None = None
    """Only of what was not asked for, which has no step."""

    @property
    def mistake(self) -> str:
        """The mistake that the fault is part of, in words."""
        where = f"at {self.at_s:.1f} s" if self.at_s is not None else f"step {self.step}"
        return f"{self.fault} in figure {self.figure}, attempt {self.attempt}, {where}"

    def is_as(self, other: Blemish) -> bool:
        """Whether both are the same, times as near as they can be told."""
        if self.at_s is None or other.at_s is None:
            return self == other
        return replace(self, at_s=other.at_s) == other and abs(self.at_s - other.at_s) <= WITHIN_S


@dataclass(frozen=True)
class Outcome:
    """What of the planted mistakes a report tells, and what else."""

    planted: tuple[str, ...]
    missed: tuple[str, ...]
    """Planted, and not told, or not on all its strings."""
    invented: tuple[str, ...]

    @property
    def is_exact(self) -> bool:
        return not self.missed and not self.invented

    @property
    def sentence(self) -> str:
        """How many were planted and found, and what is wrong with that, if anything is."""
        told = f"{len(self.planted)} mistakes were planted, {len(self.planted) - len(self.missed)} were found"
        told += f", and what was not planted: {'; '.join(self.invented)}." if self.invented else ", nothing else."
        return told + (f" Not found: {'; '.join(self.missed)}." if self.missed else "")


def path_of(name: str) -> Path:
    """Where a file of the demo is: "lesson.toml", "take.ogg", "planted.json"."""
    return Path(str(files("livecheck.demo"))) / name


def planted() -> tuple[Blemish, ...]:
    """What was planted."""
    return tuple(_blemishes(msgspec.json.decode(path_of("planted.json").read_bytes(), type=_Report)))


def compared(report: Mapping[str, object]) -> Outcome:
    """A report beside what was planted."""
    wanted, told = planted(), tuple(_blemishes(msgspec.convert(report, _Report)))
    return Outcome(_mistakes(wanted), _mistakes(_without(wanted, told)), _mistakes(_without(told, wanted)))


def _blemishes(report: _Report) -> Iterator[Blemish]:
    for figure in report.figures:
        where = (figure.figure, figure.attempt)
        for checkpoint in figure.checkpoints:
            for fault in checkpoint.faults:
                yield Blemish(*where, fault, checkpoint.string, step=checkpoint.step, kind=checkpoint.kind)
        for extra in figure.extras:
            yield Blemish(*where, extra.fault, extra.string, at_s=extra.at_s)


def _without(blemishes: Iterable[Blemish], others: Iterable[Blemish]) -> list[Blemish]:
    """Those that have no partner among others, each of which serves one."""
    left, alone = list(others), []
    for blemish in blemishes:
        partner = next((other for other in left if blemish.is_as(other)), None)
        if partner is None:
            alone.append(blemish)
        else:
            left.remove(partner)
    return alone


def _mistakes(blemishes: Iterable[Blemish]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(blemish.mistake for blemish in blemishes))
