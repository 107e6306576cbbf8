"""`python -m tests.neck`: many random requests for places and exercises; exit status 1 if any answer is unplayable or
slow."""

from __future__ import annotations

import argparse
import statistics
import sys

from tests.neck.requests import LONGEST_S, answers

MOST_TOLD = 20


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.neck", description="Random requests to the neck's solver.")
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    by_kind: dict[str, list[float]] = {}
    found = bad = slow = 0
    for answer in answers(given.count, given.seed):
        by_kind.setdefault(answer.words.split()[0], []).append(answer.lasted_s)
        found += answer.found > 0
        slow += answer.lasted_s > LONGEST_S
        bad += bool(answer.complaints)
        if (answer.complaints or answer.lasted_s > LONGEST_S) and bad + slow <= MOST_TOLD:
            print(f"{answer.words}: {answer.lasted_s:.2f} s", *answer.complaints[:3], sep="\n  ", file=sys.stderr)
    for kind, lasted_s in sorted(by_kind.items()):
        middle, longest = 1000.0 * statistics.median(lasted_s), 1000.0 * max(lasted_s)
        print(f"{kind:10} {len(lasted_s):6} requests, {middle:4.0f} ms in the middle, {longest:4.0f} ms the longest")
    print(f"{given.count} requests: {found} with an answer, {bad} unplayable, {slow} above {LONGEST_S:g} s")
    return int(bad + slow > 0)


if __name__ == "__main__":
    sys.exit(main())
