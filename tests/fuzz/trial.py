"""One input, read: what came of it, and how long it took."""

from __future__ import annotations

import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Literal

from livecheck.errors import Unusable
from tests.fuzz.kinds import KINDS, NAME

Outcome = Literal["read", "unusable", "broken", "slow"]


@dataclass(frozen=True)
class Trial:
    kind: str
    number: int
    """The input is made from the run's seed and this."""
    outcome: Outcome
    said: str
    """The sentence, or the traceback."""
    lasted_s: float
    data: bytes = field(repr=False)


def trials(kind: str, count: int, seed: int, folder: Path) -> Iterator[Trial]:
    """Inputs of a kind, one after the other; each lies in `folder` while it is read, should the process die of it."""
    for number in range(count):
        data = KINDS[kind].make(Random(f"{kind} {seed} {number}"))
        outcome, said, lasted_s = tried(kind, data, folder)
        yield Trial(kind, number, outcome, said, lasted_s, data)


def tried(kind: str, data: bytes, folder: Path) -> tuple[Outcome, str, float]:
    """What came of an input, what was said, and the seconds that it took."""
    path = folder / NAME
    path.write_bytes(data)
    outcome: Outcome = "read"
    said = ""
    begun_s = time.perf_counter()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            KINDS[kind].read(path)
    except Unusable as error:
        said = str(error)
        outcome = "unusable" if _is_sentence(said) else "broken"
    except Exception:  # noqa: BLE001 - that there is none is what is tried
        outcome, said = "broken", traceback.format_exc()
    lasted_s = time.perf_counter() - begun_s
    return ("slow" if lasted_s > KINDS[kind].slowest_s and outcome != "broken" else outcome), said, lasted_s


def _is_sentence(said: str) -> bool:
    """One line that says something; a lesson's own words in it may hold anything, as the terminal's end cleans them."""
    return bool(said.strip()) and "Traceback" not in said and "something else" not in said


@dataclass
class Tally:
    """What came of all inputs of a kind."""

    outcomes: Counter[Outcome] = field(default_factory=Counter)
    slowest_s: float = 0.0
    lasted_s: float = 0.0

    def add(self, trial: Trial) -> None:
        self.outcomes[trial.outcome] += 1
        self.slowest_s = max(self.slowest_s, trial.lasted_s)
        self.lasted_s += trial.lasted_s
