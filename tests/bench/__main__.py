"""The benchmark's own commands: `python -m tests.bench make …`, `python -m tests.bench score …`."""

from __future__ import annotations

import argparse
import os
import time
from pathlib import Path

from tests.bench import lessons
from tests.bench.bank import names
from tests.bench.room import ROOMS


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench", description="Takes with planted faults and known truth."
    )
    commands = parser.add_subparsers(required=True, dest="command")
    _add_make(commands.add_parser("make", help="write takes: lesson.toml, take.wav, take.mid, truth.json"))
    _add_score(commands.add_parser("score", help="grade takes and compare with the truth"))
    _add_hard(commands.add_parser("hard", help="sound and playing as they really are, from mild to harsh"))
    _add_peers(commands.add_parser("peers", help="general pitch tools on the same held notes"))
    _add_speed(commands.add_parser("speed", help="the whole command, on one core and on all"))
    _add_live(commands.add_parser("live", help="how soon a figure is told while playing, and what that costs"))
    _add_desk(commands.add_parser("desk", help="a take to its page, a class, an overview in Chromium, a cluster"))
    _add_draft(commands.add_parser("draft", help="lessons drafted from takes, beside the truth and a transcriber"))
    given = parser.parse_args()
    given.run(given)


def _add_make(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--set", dest="set_name", choices=lessons.available(), required=True)
    parser.add_argument("--seed", type=int, required=True, help="the first seed")
    parser.add_argument("--count", type=int, default=1, help="how many seeds")
    parser.add_argument("--instrument", choices=names(), default="steel")
    parser.add_argument("--room", choices=("dry", *ROOMS), default="dry")
    parser.add_argument("--clean", action="store_true", help="plant nothing")
    parser.add_argument("--out", type=Path, required=True)
    parser.set_defaults(run=_make)


def _make(given: argparse.Namespace) -> None:
    from tests.bench.take import make

    for seed in range(given.seed, given.seed + given.count):
        take = make(given.set_name, seed, given.clean)
        take.write(given.out / take.name, given.instrument, given.room)
        print(given.out / take.name)


def _add_score(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--sets", default="all", help="names with commas, or all")
    parser.add_argument("--seeds", default="0-4", help="such as 3, 0-9 or 0-4,7")
    parser.add_argument("--instrument", default="steel", help='names with commas; "midi" for the take as MIDI')
    parser.add_argument("--room", default="dry", help="dry, echo, reverb, band, hum, driven, with commas")
    parser.add_argument("--unseen", action="store_true", help="the seeds and instruments that are kept apart")
    parser.add_argument("--clean", action="store_true", help="plant nothing")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--no-list", action="store_true", help="leave out the list of wrong verdicts")
    parser.set_defaults(run=_score)


def _score(given: argparse.Namespace) -> None:
    from tests.bench.run import UNSEEN_INSTRUMENTS, UNSEEN_SEEDS, Task, run_all
    from tests.bench.score import Tally
    from tests.bench.table import faults, left_out, table

    sets = lessons.available() if given.sets == "all" else given.sets.split(",")
    seeds = list(UNSEEN_SEEDS) if given.unseen else _numbers(given.seeds)
    instruments = list(UNSEEN_INSTRUMENTS) if given.unseen else given.instrument.split(",")
    tasks = [
        Task(set_name, seed, None if instrument == "midi" else instrument, room, given.clean)
        for set_name in sets
        for instrument in instruments
        for room in (["dry"] if instrument == "midi" else given.room.split(","))
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
    print(left_out(total), end="")
    print(f"({time.monotonic() - began_s:.0f} s)")


def _add_hard(parser: argparse.ArgumentParser) -> None:
    from tests.bench.levels import LEVELS
    from tests.bench.trial import kinds

    parser.add_argument("--kinds", default="all", help=f"with commas, or all: {', '.join(kinds())}")
    parser.add_argument("--level", default="middle", help=f"{', '.join(LEVELS)}, with commas")
    parser.add_argument("--seeds", default="0-3", help="such as 3, 0-9 or 0-4,7; 2000 and up are left for the end")
    parser.add_argument("--instrument", default="steel", help="names with commas")
    parser.add_argument("--clean", action="store_true", help="plant nothing")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--list", action="store_true", help="list the wrong verdicts too")
    parser.add_argument("--pictures", type=Path, help="a folder for pictures of the worst takes")
    parser.add_argument("--most", type=int, default=12, help="how many pictures at most")
    parser.set_defaults(run=_hard)


def _hard(given: argparse.Namespace) -> None:
    from tests.bench import trial
    from tests.bench.run import run_all
    from tests.bench.score import Tally
    from tests.bench.table import calibration, left_out, table

    tasks = [
        task
        for kind in (trial.kinds() if given.kinds == "all" else given.kinds.split(","))
        for level in given.level.split(",")
        for instrument in given.instrument.split(",")
        for task in trial.tasks(kind, level, _numbers(given.seeds), instrument, given.clean)
    ]
    began_s = time.monotonic()
    total = Tally()
    tallies: dict[str, Tally] = {}
    on_all: dict[str, Tally] = {}
    done = []
    for task, tally in run_all(tasks, given.jobs):
        done.append((len(tally.wrong), task))
        tallies.setdefault(task.row, Tally()).add(tally)
        on_all.setdefault(task.row.removesuffix(f", {task.instrument}"), Tally()).add(tally)
        total.add(tally)
    if given.list:
        print(*total.wrong, sep="\n")
    print("\n" + table({**tallies, "total": total}))
    if len(on_all) < len(tallies):
        print("\n" + table({f"{name}, all of them": tally for name, tally in on_all.items()}))
    print(left_out(total), end="")
    print("\n" + (calibration(total) or "The report says nothing of confidence."))
    print(f"({time.monotonic() - began_s:.0f} s)")
    if given.pictures:
        from tests.bench.picture import picture_worst

        worst = [task for count, task in sorted(done, key=lambda entry: -entry[0]) if count]
        print(*picture_worst(worst, given.pictures, given.most), sep="\n")


def _add_peers(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--sets", default="strings,double-stops,grips", help="names with commas")
    parser.add_argument("--seeds", default="0-2")
    parser.add_argument("--instrument", choices=names(), default="steel")
    parser.set_defaults(run=_peers)


def _peers(given: argparse.Namespace) -> None:
    from tests.bench.peers import rows, shares

    for set_name in given.sets.split(","):
        for tool, errors in rows(set_name, given.instrument, _numbers(given.seeds)).items():
            within_50, within_10 = shares(errors)
            print(f"{set_name:13} {tool:14} of {len(errors):4} held notes {within_50:5.1f} % within 50 cents,", end=" ")
            print(f"{within_10:5.1f} % within 10")


def _add_desk(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--takes", type=int, default=40, help="how many takes a class has")
    parser.add_argument("--price", type=float, default=0.05, help="what a core costs for an hour")
    parser.add_argument("--no-cluster", action="store_true", help="leave out the Dask cluster")
    parser.set_defaults(run=_desk)


def _desk(given: argparse.Namespace) -> None:
    from tests.bench.desk import measure

    measure(given.takes, given.price, with_cluster=not given.no_cluster)


def _add_speed(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--set", dest="set_name", choices=lessons.available(), default="grips")
    parser.add_argument("--instrument", choices=names(), default="steel")
    parser.add_argument("--minutes", type=float, default=5.0)
    parser.add_argument("--hops", action="store_true", help="what each 256 samples cost while playing, instead")
    parser.add_argument("--memory", action="store_true", help="what half, twice and four times as long need, instead")
    parser.add_argument("--room", choices=("dry", *ROOMS), default="dry", help="for --memory")
    parser.set_defaults(run=_speed)


def _speed(given: argparse.Namespace) -> None:
    from tests.bench.speed import measure, measure_growth, measure_hops

    if given.memory:
        print(measure_growth(given.set_name, given.instrument, given.room, given.minutes))
    else:
        print((measure_hops if given.hops else measure)(given.set_name, given.instrument, given.minutes))


def _add_live(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--sets", default="double-stops,grips,strings", help="names with commas")
    parser.add_argument("--seeds", default="0-2")
    parser.add_argument("--instrument", choices=names(), default="steel")
    parser.add_argument("--minutes", type=float, default=0.0, help="how long each take is at least")
    parser.add_argument("--own-time", action="store_true", help="leave out what else keeps this machine busy")
    parser.set_defaults(run=_live)


def _live(given: argparse.Namespace) -> None:
    from tests.bench.live import measure

    print(measure(given.sets.split(","), given.instrument, _numbers(given.seeds), given.minutes, given.own_time))


def _add_draft(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--sets", default="lines,strings,double-stops", help="names with commas")
    parser.add_argument("--seeds", default="0-3")
    parser.add_argument("--instrument", default="steel", help="names with commas")
    parser.add_argument("--room", default="dry", help="dry, echo, reverb, band, hum, driven, with commas")
    parser.add_argument("--list", action="store_true", help="every fault that a take has by its own draft")
    parser.set_defaults(run=_draft)


def _draft(given: argparse.Namespace) -> None:
    from tests.bench.drafting import measure

    for room in given.room.split(","):
        for instrument in given.instrument.split(","):
            for set_name in given.sets.split(","):
                tally = measure(set_name, _numbers(given.seeds), instrument, room)
                print(f"{set_name}, {instrument}, {room}: {tally}", flush=True)
                if given.list:
                    print(*tally.faults, sep="\n")


def _numbers(text: str) -> list[int]:
    found: list[int] = []
    for part in text.split(","):
        first, _, last = part.partition("-")
        found += range(int(first), int(last or first) + 1)
    return found


for _variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_variable, "1")
main()
