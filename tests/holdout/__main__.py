"""`python -m tests.holdout --seeds 1-3 --effects dry,rig`: the command line on takes made from the contract alone."""

import argparse
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterable
from itertools import product
from multiprocessing import Pool
from pathlib import Path

import numpy as np
import soundfile

from tests.holdout.effects import EFFECTS
from tests.holdout.instrument import NAMES, read
from tests.holdout.music import Lesson, compose
from tests.holdout.playing import Take, play
from tests.holdout.rendering import render
from tests.holdout.scoring import Score, compare, grade
from tests.holdout.sound import RATE
from tests.holdout.table import HEAD, line
from tests.holdout.voices import VOICES

Job = tuple[int, str, str, Path | None]


def made(seed: int, voice: str) -> tuple[Lesson, Take]:
    rng = np.random.default_rng([seed, list(VOICES).index(voice)])
    lesson = compose(rng, read(str(rng.choice(NAMES, p=[0.4, 0.2, 0.1, 0.1, 0.1, 0.1]))))
    return lesson, play(rng, lesson)


def graded(job: Job) -> tuple[Job, Score]:
    seed, voice, effect, keep = job
    lesson, take = made(seed, voice)
    rng = np.random.default_rng([seed, list(VOICES).index(voice), list(EFFECTS).index(effect)])
    with tempfile.TemporaryDirectory() as scratch:
        folder = keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        stem = f"{seed}-{voice}-{effect}"
        lesson_file, take_file = folder / f"{stem}.toml", folder / f"{stem}.wav"
        lesson_file.write_text(lesson.toml())
        soundfile.write(take_file, render(rng, take, VOICES[voice], EFFECTS[effect]), RATE)
        report = grade(lesson_file, take_file)
    score = compare(report, take.attempts)
    if "error" in report:
        score.wrong.append(report["error"])
    return job, score


def seeds(text: str) -> list[int]:
    first, _, last = text.partition("-")
    return list(range(int(first), int(last or first) + 1))


def names(known: Iterable[str]) -> Callable[[str], list[str]]:
    def some(text: str) -> list[str]:
        chosen = text.split(",")
        if unknown := set(chosen) - set(known):
            raise argparse.ArgumentTypeError(f"{', '.join(sorted(unknown))}: not one of {', '.join(known)}")
        return chosen

    return some


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.holdout", description=__doc__)
    parser.add_argument("--seeds", type=seeds, required=True)
    parser.add_argument("--effects", type=names(EFFECTS), default=list(EFFECTS))
    parser.add_argument("--voices", type=names(VOICES), default=list(VOICES))
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--list", action="store_true", help="print every wrong verdict")
    parser.add_argument("--turns", action="store_true", help="one voice for each seed and effect, in turn")
    parser.add_argument("--keep", type=Path, help="a folder to keep lessons and takes in")
    asked = parser.parse_args()
    jobs: list[Job] = []
    for number, (seed, effect) in enumerate(product(asked.seeds, asked.effects)):
        turn = number % len(asked.voices)
        voices = asked.voices[turn : turn + 1] if asked.turns else asked.voices
        jobs += [(seed, voice, effect, asked.keep) for voice in voices]
    by: dict[str, Score] = defaultdict(Score)
    with Pool(asked.jobs) as pool:
        for number, (job, score) in enumerate(pool.imap(graded, jobs), 1):
            seed, voice, effect, _ = job
            print(
                f"{number}/{len(jobs)} {seed} {voice} {effect}: {len(score.wrong)} wrong", file=sys.stderr, flush=True
            )
            for wrong in score.wrong if asked.list else ():
                print(f"{seed} {voice} {effect}: {wrong}", flush=True)
            for name in (effect, f"voice {voice}"[:16], "all"):
                by[name].add(score)
    print(HEAD)
    for name in sorted(by, key=lambda name: (name == "all", name.startswith("voice"), name)):
        print(line(name, by[name]))


if __name__ == "__main__":
    main()
