"""A take: all figures of a lesson as one player plays them, some left out, some twice, with or without pauses."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
import soundfile
from numpy.typing import NDArray

from livecheck.lesson.expectation import Expectation, expect
from livecheck.lesson.figure import Lesson
from tests.bench import lessons, render, truth
from tests.bench.bank import bank
from tests.bench.habit import NONE, Habit
from tests.bench.hands import branch_of, hands_of
from tests.bench.performance import Manner, Performance
from tests.bench.planting import Planter
from tests.bench.room import in_room

STEPS_FOR_OWN_TEMPO = 6
"""A figure of fewer steps keeps the take's tempo."""
SLOWEST_BEAT_S, FASTEST_BEAT_S = 1.25, 0.42
FOREIGN_SEEDS = 50_000


@dataclass(frozen=True)
class Take:
    """What was played, and the truth about it."""

    name: str
    lesson_text: str
    lesson: Lesson
    performances: tuple[Performance, ...]
    missing: tuple[str, ...]
    tuning_cents: float
    length_s: float
    seed: int
    beat_s: float
    timing: Literal["free", "click"] = "free"
    habit: Habit = NONE
    intruders: tuple[Performance, ...] = ()
    """Figures of another lesson, played in between."""

    @property
    def played(self) -> tuple[Performance, ...]:
        return (*self.performances, *self.intruders)

    def truth(self, instrument: str | None) -> dict[str, Any]:
        """The truth about the take on an instrument, or as MIDI."""
        return truth.report(self.performances, self.missing, self.lesson, self.beat_s, self.tuning_cents, instrument)

    def sound(self, instrument: str) -> NDArray[np.float32]:
        return render.sound(self.played, bank(instrument), self.tuning_cents, self.length_s, self.seed, self.habit)

    def write(self, folder: Path, instrument: str, room: str = "dry") -> None:
        """lesson.toml, take.wav, take.mid and truth.json."""
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "lesson.toml").write_text(self.lesson_text, encoding="utf-8")
        heard = in_room(self.sound(instrument), room, self.seed, self.beat_s)
        soundfile.write(folder / "take.wav", heard.samples, heard.rate_hz, subtype="PCM_16")
        render.midi(self.played, self.tuning_cents).save(folder / "take.mid")
        (folder / "truth.json").write_text(json.dumps(self.truth(instrument), indent=1) + "\n", encoding="utf-8")


def make(
    set_name: str, seed: int, clean: bool = False, at_least_s: float = 0.0, habit: Habit = NONE, dense: bool = False
) -> Take:
    """The take with this seed in a set; `clean`: without any slip; the lesson repeated until it is long enough.

    `dense`: slips in most figures, to learn more from a take.
    """
    text = lessons.write(set_name, seed)
    name = f"{set_name}-{seed}"
    lesson = lessons.parse(text, name)
    rng = np.random.default_rng((branch_of(set_name), seed, 2))
    factor = float(np.exp(rng.uniform(np.log(0.7), np.log(1.35))))
    beat_s = float(np.clip(60.0 / lesson.tempo / factor, FASTEST_BEAT_S, SLOWEST_BEAT_S))
    to_click = hands_of(set_name).frills and seed % 3 == 1
    beat_s = lesson.beat_s if to_click else beat_s
    manner = Manner(
        beat_s=beat_s, roundness=float(rng.uniform(0.0, 0.8)), vibrato_cents=float(rng.uniform(8.0, 20.0)),
        vibrato_hz=float(rng.uniform(4.5, 6.0)), loose_vibrato=bool(rng.random() < 0.2),
        cents=float(rng.uniform(1.5, 3.0)),
    )  # fmt: skip
    manner = _with_habit(manner, habit)
    tuning = float(rng.uniform(-28.0, 28.0)) if rng.random() < 0.6 else 0.0
    if lesson.reference_hz is not None:
        tuning = 1200.0 * float(np.log2(lesson.reference_hz / 440.0)) + float(rng.uniform(-2.5, 2.5))
    order, missing = _order(len(lesson.figures), rng)
    paused = rng.random() < 0.6
    # The one figure that may depart from the take's tempo.
    freest = int(rng.choice(order)) if hands_of(set_name).frills and not to_click else None
    now = float(rng.uniform(0.3, 3.0))
    performances: list[Performance] = []
    intruders: list[Performance] = []
    foreign = lessons.parse(lessons.write(set_name, seed + FOREIGN_SEEDS), name) if habit.intruders else None
    order = [index for index in order for _ in range(int(habit.times))]
    for index in _again(order):
        if len(performances) >= len(order) and now >= at_least_s:
            break
        expectation = expect(lesson.figures[index], lesson.copedent)
        own_s = beat_s
        if index == freest and len({c.step for c in expectation.checkpoints}) >= STEPS_FOR_OWN_TEMPO:
            own_s *= float(rng.uniform(0.94, 1.06))
        planter = Planter(lesson.copedent, replace(manner, beat_s=own_s), rng, dense)
        pause = float(rng.uniform(0.3, 2.5)) if paused and rng.random() < 0.7 else 0.0
        pause = np.ceil(pause / beat_s) * beat_s if to_click else pause
        pause = habit.pause_s * float(rng.uniform(0.7, 1.3)) if habit.times > 1.0 else pause
        if habit.restart_share and rng.random() < habit.restart_share:
            broken = _broken(planter, expectation, now, own_s, rng)
            if broken is not None and broken.broken_s is not None:
                performances.append(broken)
                now = broken.broken_s + habit.pause_s * float(rng.uniform(0.7, 1.3))
        if foreign is not None and performances and len(intruders) < habit.intruders:
            strange = expect(foreign.figures[len(intruders) % len(foreign.figures)], lesson.copedent)
            now += habit.pause_s * float(rng.uniform(0.7, 1.3))
            strange_end_s = now + float(strange.figure.length) * beat_s
            intruders.append(planter.perform(strange, now, strange_end_s, True))
            now = strange_end_s + habit.pause_s * float(rng.uniform(0.7, 1.3))
        end_s = now + float(expectation.figure.length) * own_s
        until_s = end_s + (0.4 * pause if pause else -0.04)
        performances.append(planter.perform(expectation, now, until_s, clean or None))
        now = end_s + pause
    names = tuple(lesson.figures[index].name for index in missing)
    return Take(
        name, text, lesson, tuple(performances), names, tuning, now + 0.8, seed, beat_s,
        "click" if to_click else "free", habit, tuple(intruders),
    )  # fmt: skip


def _with_habit(manner: Manner, habit: Habit) -> Manner:
    if habit.vibrato_cents:
        manner = replace(manner, vibrato_cents=habit.vibrato_cents, loose_vibrato=True)
    if habit.cabinet_cents:
        # What is left of the room for a steady hand, so that together they are still in tune.
        manner = replace(manner, cents=min(manner.cents, 0.4 * max(1.0, 9.0 - habit.cabinet_cents)))
    return replace(manner, habit=habit)


def _broken(
    planter: Planter, expectation: Expectation, start_s: float, beat_s: float, rng: np.random.Generator
) -> Performance | None:
    """A figure that is stopped after a few steps; None if it has too few."""
    steps = expectation.figure.steps
    if len(steps) < 4:
        return None
    last = steps[int(rng.integers(2, len(steps) - 1))]
    stop_s = start_s + (float(last.beat) - 1.0) * beat_s + float(rng.uniform(0.15, 0.35))
    end_s = start_s + float(expectation.figure.length) * beat_s
    return planter.perform(expectation, start_s, end_s, True).broken_at(stop_s)


def _again(order: list[int]) -> Iterator[int]:
    while True:
        yield from order


def _order(count: int, rng: np.random.Generator) -> tuple[list[int], list[int]]:
    """Figures in the order played: now and then one twice, one left out."""
    left_out = {int(rng.integers(count))} if rng.random() < 0.25 else set()
    order: list[int] = []
    for index in range(count):
        if index not in left_out:
            order += [index, index] if rng.random() < 0.12 else [index]
    return order, sorted(left_out)
