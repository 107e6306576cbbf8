"""`python -m tests.fuzz`: many inputs, a table of kinds and outcomes; exit status 1 if anything broke or was slow."""

from __future__ import annotations

import argparse
import faulthandler
import sys
import tempfile
from pathlib import Path

from rich.console import Console
from rich.table import Table

from tests.fuzz.kinds import KINDS
from tests.fuzz.trial import Outcome, Tally, Trial, trials

OUTCOMES: tuple[Outcome, ...] = ("read", "unusable", "broken", "slow")
HANGS_S = 120.0
"""What is not read by then hangs: the process ends and shows where."""
MOST_TOLD = 5
"""Tracebacks printed of a kind."""
SHARES = {
    "midi graded": 5,
    "wav graded": 20,
    "lesson shown": 5,
    "right lesson": 5,
    "lesson played": 50,
    "lesson heard": 200,
}
"""Of these kinds only every so many-th input is tried, as each takes long."""


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description="Reads damaged and miswritten files.")
    parser.add_argument("--count", type=int, default=1000, help="inputs of each kind; fewer of those that take long")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--kinds", default=",".join(KINDS), help=f"with commas, of: {', '.join(KINDS)}")
    parser.add_argument("--keep", type=Path, help="a folder for the inputs that broke or were slow")
    given = parser.parse_args()
    table = Table("kind", *OUTCOMES, "slowest, ms", "all, s")
    failed = False
    with tempfile.TemporaryDirectory() as folder:
        for kind in given.kinds.split(","):
            tally, bad = Tally(), 0
            for trial in trials(kind, -(-given.count // SHARES.get(kind, 1)), given.seed, Path(folder)):
                faulthandler.dump_traceback_later(HANGS_S, exit=True)
                tally.add(trial)
                if trial.outcome in ("broken", "slow"):
                    bad += 1
                    _tell(trial, given.keep, in_full=bad <= MOST_TOLD)
            counts = [str(tally.outcomes[outcome]) for outcome in OUTCOMES]
            table.add_row(kind, *counts, f"{1000.0 * tally.slowest_s:.0f}", f"{tally.lasted_s:.1f}")
            failed |= bad > 0
    faulthandler.cancel_dump_traceback_later()
    Console().print(table)
    return int(failed)


def _tell(trial: Trial, keep: Path | None, in_full: bool) -> None:
    if keep is not None:
        keep.mkdir(parents=True, exist_ok=True)
        (keep / f"{trial.kind.replace(' ', '-')}-{trial.number}").write_bytes(trial.data)
    if in_full:
        print(
            f"{trial.kind} {trial.number}: {trial.outcome} after {trial.lasted_s:.2f} s\n{trial.said}", file=sys.stderr
        )


if __name__ == "__main__":
    sys.exit(main())
