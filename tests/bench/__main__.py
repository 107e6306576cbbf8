"""The benchmark's own commands: `python -m tests.bench make …`, `python -m tests.bench score …`."""

from __future__ import annotations

import argparse
import os
import time
from pathlib import Path

from tests.bench import lessons
from tests.bench.bank import names


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench", description="Takes with planted faults and known truth."
    )
    commands = parser.add_subparsers(required=True, dest="command")
    _add_make(commands.add_parser("make", help="write takes: lesson.toml, take.wav, take.mid, truth.json"))
    _add_score(commands.add_parser("score", help="grade takes and compare with the truth"))
    given = parser.parse_args()
    given.run(given)


def _add_make(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--set", dest="set_name", choices=lessons.available(), required=True)
    parser.add_argument("--seed", type=int, required=True, help="the first seed")
    parser.add_argument("--count", type=int, default=1, help="how many seeds")
    parser.add_argument("--instrument", choices=names(), default="steel")
    parser.add_argument("--clean", action="store_true", help="plant nothing")
    parser.add_argument("--out", type=Path, required=True)
    parser.set_defaults(run=_make)


def _make(given: argparse.Namespace) -> None:
    from tests.bench.take import make

    for seed in range(given.seed, given.seed + given.count):
        take = make(given.set_name, seed, given.clean)
        take.write(given.out / take.name, given.instrument)
        print(given.out / take.name)


def _add_score(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--sets", default="all", help="names with commas, or all")
    parser.add_argument("--seeds", default="0-4", help="such as 3, 0-9 or 0-4,7")
    parser.add_argument("--instrument", default="steel", help='names with commas; "midi" for the take as MIDI')
    parser.add_argument("--unseen", action="store_true", help="the seeds and instruments that are kept apart")
    parser.add_argument("--clean", action="store_true", help="plant nothing")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--no-list", action="store_true", help="leave out the list of wrong verdicts")
    parser.set_defaults(run=_score)


def _score(given: argparse.Namespace) -> None:
    from tests.bench.run import UNSEEN_INSTRUMENTS, UNSEEN_SEEDS, Task, run_all
    from tests.bench.score import Tally
    from tests.bench.table import faults, table

    sets = lessons.available() if given.sets == "all" else given.sets.split(",")
    seeds = list(UNSEEN_SEEDS) if given.unseen else _numbers(given.seeds)
    instruments = list(UNSEEN_INSTRUMENTS) if given.unseen else given.instrument.split(",")
    tasks = [
        Task(set_name, seed, None if instrument == "midi" else instrument, given.clean)
        for set_name in sets
        for instrument in instruments
        for seed in seeds
    ]
    began_s = time.monotonic()
    total = Tally()
    tallies: dict[str, Tally] = {}
    for task, tally in run_all(tasks, given.jobs):
        tallies.setdefault(task.row, Tally()).add(tally)
        total.add(tally)
    if not given.no_list:
        print(*total.wrong, sep="\n")
    print("\n" + faults(total) + "\n")
    print(table({**tallies, "total": total}))
    print(f"({time.monotonic() - began_s:.0f} s)")


def _numbers(text: str) -> list[int]:
    found: list[int] = []
    for part in text.split(","):
        first, _, last = part.partition("-")
        found += range(int(first), int(last or first) + 1)
    return found


for _variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_variable, "1")
main()
