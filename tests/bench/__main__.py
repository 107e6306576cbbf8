"""The benchmark's own command: `python -m tests.bench make …`."""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.bench import lessons
from tests.bench.bank import names
from tests.bench.take import make


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description="Takes with planted faults and known truth.")
    commands = parser.add_subparsers(required=True, dest="command")
    made = commands.add_parser("make", help="write takes: lesson.toml, take.wav, take.mid, truth.json")
    made.add_argument("--set", dest="set_name", choices=tuple(lessons.SETS), required=True)
    made.add_argument("--seed", type=int, required=True, help="the first seed")
    made.add_argument("--count", type=int, default=1, help="how many seeds")
    made.add_argument("--instrument", choices=names(), default="steel")
    made.add_argument("--clean", action="store_true", help="plant nothing")
    made.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    for seed in range(given.seed, given.seed + given.count):
        take = make(given.set_name, seed, given.clean)
        take.write(given.out / take.name, given.instrument)
        print(given.out / take.name)


main()
