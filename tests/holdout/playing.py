"""A human take of a lesson, with faults planted far beyond the tolerances, and the truth about it."""

from dataclasses import dataclass, field

import numpy as np

from tests.holdout.music import SAME, Figure, Lesson, Step
from tests.holdout.sound import Sound
from tests.holdout.truth import Attempt, Checkpoint, Extra

FAULTY = 0.42
"""Share of steps with a fault: about one checkpoint in six, as many steps have no room for theirs."""
MASKED = (0.0, 12.0, 19.0, 24.0, 28.0)
"""Semitones above another string at which a string hides in its partials."""
PICK_FAULTS = (
    "missed",
    "string",
    "fret",
    "pedal",
    "tune",
    "late",
    "early",
    "twice",
    "twice",
    "extra",
    "extra",
    "cut",
    "cut",
    "cut",
)
MOVE_FAULTS = ("tune", "late", "early", "stay", "far", "twice")


@dataclass
class Take:
    sounds: list[Sound] = field(default_factory=list)
    slides: list[tuple[float, float]] = field(default_factory=list)
    attempts: list[Attempt] = field(default_factory=list)
    end_s: float = 0.0


def play(rng: np.random.Generator, lesson: Lesson) -> Take:
    take = Take()
    beat_s = 60 / lesson.tempo * rng.uniform(0.95, 1.06)
    now_s = 1.0
    for figure in lesson.figures:
        stops = [int(rng.integers(3, len(figure.steps) - 1))] if rng.random() < 0.1 else []
        again = [len(figure.steps)] if rng.random() < 0.25 else []
        for upto in [*stops, len(figure.steps), *again]:
            attempt = _Attempt(rng, lesson, figure, now_s, beat_s * rng.uniform(0.985, 1.015), take)
            attempt.play(upto)
            now_s = attempt.truth.end_s + rng.uniform(0.5, 2.0)
    take.end_s = now_s + 1
    return take


class _Attempt:
    def __init__(
        self, rng: np.random.Generator, lesson: Lesson, figure: Figure, start_s: float, beat_s: float, take: Take
    ) -> None:
        self.rng, self.instrument, self.figure, self.take, self.beat_s = rng, lesson.instrument, figure, take, beat_s
        self.start_s = start_s
        self.sway = rng.uniform(0, 2 * np.pi)
        self.truth = Attempt(figure.name, start_s)
        self.ringing: dict[int, Sound] = {}
        self.strays: list[Sound] = []
        self.spoiled: set[int] = set()
        self.untuned: set[int] = set()
        self.bar = 0.0
        take.attempts.append(self.truth)

    def time(self, beat: float) -> float:
        return float(self.start_s + (beat - 1) * self.beat_s + 0.012 * np.sin(self.sway + beat))

    def play(self, upto: int) -> None:
        steps = self.figure.steps
        for index, step in enumerate(steps[:upto]):
            after_s = (steps[min(index + 1, len(steps) - 1)].beat - step.beat) * self.beat_s
            before_s = (step.beat - steps[max(index - 1, 0)].beat) * self.beat_s
            at_s = self.time(step.beat) + float(np.clip(self.rng.normal(0, 0.006), -0.012, 0.012))
            stopped = upto < len(steps) and index >= upto - 1
            fault = None
            stray = any(
                extra.fault == "extra-note" and at_s - extra.at_s < self.beat_s * 2 for extra in self.truth.extras
            )
            if (
                self.rng.random() < FAULTY
                and index > 0
                and not stopped
                and not stray
                and (step.pick or not self.spoiled)
            ):
                fault = str(self.rng.choice(PICK_FAULTS if step.pick else MOVE_FAULTS))
            if step.block:
                self.silence(at_s)
            elif step.pick:
                self.pick(index, at_s, before_s, after_s, fault)
            else:
                self.move(index, at_s, before_s, after_s, fault)
        last = steps[upto - 1]
        end_s = self.time(last.beat + (0.9 if upto < len(steps) else 0.0))
        self.silence(end_s)
        self.truth.end_s = self.time(self.figure.length + 1) if upto == len(steps) else end_s + 0.7
        if upto < len(steps):  # which of the last steps the break leaves judged is not laid down
            for checkpoint in self.truth.checkpoints:
                checkpoint.open_groups.add("ends")
                if checkpoint.step >= upto - 1:
                    checkpoint.fault = None
                    checkpoint.open_groups |= {"ends", "timing", "intonation", "note"}

    def silence(self, at_s: float) -> None:
        for sound in [*self.ringing.values(), *self.strays]:
            sound.end_s = sound.end_s or at_s
        self.ringing, self.strays = {}, []

    def strike(self, string: int, at_s: float, midi: float) -> Sound:
        scoop = self.rng.uniform(0.1, 0.25) if self.rng.random() < 0.1 else 0.0
        points = [(at_s, midi - scoop), (at_s + 0.05, midi)]
        sound = Sound(string, at_s, points, float(self.rng.uniform(0.6, 1.0)))
        self.take.sounds.append(sound)
        return sound

    def delay(self, fault: str | None, before_s: float, after_s: float) -> float | None:
        """Seconds of a planted delay; none where it does not fit well within half the gap."""
        most = min(0.35, 0.38 * (after_s if fault == "late" else before_s))
        if most < 0.16:
            return None
        return float(self.rng.uniform(0.15, most)) * (1 if fault == "late" else -1)

    def detune(self) -> tuple[str, float]:
        cents = float(self.rng.uniform(22, 38) * self.rng.choice([-1, 1]))
        return ("sharp" if cents > 0 else "flat"), cents / 100

    def hidden(self, midi: float, others: list[float]) -> bool:
        return any(abs(abs(midi - other) - gap) < SAME for other in others for gap in MASKED)

    def pick(self, index: int, at_s: float, before_s: float, after_s: float, fault: str | None) -> None:
        step = self.figure.steps[index]
        wanted = {string: self.instrument.pitch(string, step.fret, step.down) for string in step.pick}
        old = [sound.points[-1][1] for sound in self.ringing.values()]
        played, strings, verdicts = dict(wanted), {string: string for string in wanted}, dict[int, str]()
        one = int(self.rng.choice(step.pick))
        rest = [midi for string, midi in wanted.items() if string != one]
        self.bar = float(self.rng.uniform(-0.03, 0.03))
        stray = [n for n in (one - 1, one + 1) if n in self.instrument.strings and n not in step.pick]
        stray = [n for n in stray if not self.hidden(self.pitch(n, step), [*wanted.values(), *old])]
        if fault == "missed" and not self.hidden(wanted[one], rest):
            del played[one]
            verdicts[one] = "missed"
        elif fault == "string" and stray and not self.hidden(wanted[one], rest):
            strings[one], played[one] = stray[0], self.pitch(stray[0], step)
            verdicts[one] = "wrong-note"
        elif fault == "fret":
            off = float(self.rng.choice([-2, -1, 1, 2]))
            if step.fret + off >= 0 and not any(
                abs(p + off - q) < SAME for p in wanted.values() for q in [*rest, *old]
            ):
                played = {string: midi + off for string, midi in wanted.items()}
                verdicts = dict.fromkeys(wanted, "wrong-note")
        elif fault == "pedal" and step.down:
            fewer = step.down[1:]
            bare = {string: self.instrument.pitch(string, step.fret, fewer) for string in step.pick}
            changed = [string for string in bare if abs(bare[string] - wanted[string]) >= SAME]
            if not any(self.hidden(bare[s], [bare[o] for o in bare if o != s] + old) for s in changed):
                played, verdicts = bare, dict.fromkeys(changed, "wrong-note")
        elif fault == "tune":
            verdict, self.bar = self.detune()
            verdicts = dict.fromkeys(wanted, verdict)
        elif fault in {"late", "early"} and (delay := self.delay(fault, before_s, after_s)) is not None:
            at_s += delay
            after_s -= delay
            verdicts = dict.fromkeys(wanted, fault)
            if fault == "late":  # what it should have silenced may or may not ring on beyond the tolerance
                picked = max((c.step for c in self.truth.checkpoints if c.kind == "pick"), default=0)
                for checkpoint in self.truth.checkpoints:
                    if checkpoint.step >= picked:
                        checkpoint.open_groups.add("ends")
        self.silence(at_s - float(self.rng.uniform(0.005, 0.03)))
        rake = float(self.rng.uniform(0, 0.04)) / len(wanted) if len(wanted) > 1 and self.rng.random() < 0.4 else 0.004
        self.spoiled = {string for string, verdict in verdicts.items() if verdict in {"missed", "wrong-note"}}
        self.untuned = set(wanted) if fault == "tune" else set()
        for order, string in enumerate(played):
            self.ringing[string] = self.strike(strings[string], at_s + order * rake, played[string] + self.bar)
            if len(wanted) == 1 and after_s > 1 and self.rng.random() < 0.3:
                self.ringing[string].vibrato_cents = float(self.rng.uniform(8, 20))
        later_s = at_s + float(self.rng.uniform(0.35, 0.5)) * after_s
        if fault == "twice" and after_s > 0.7:
            self.again(step.pick if self.rng.random() < 0.5 else (one,), later_s)
        elif fault == "extra" and stray and after_s > 0.7 and self.figure.steps[index + 1].pick:
            midi = self.pitch(stray[0], step) + self.bar
            self.strays.append(self.strike(stray[0], later_s, midi))
            self.truth.extras.append(Extra("extra-note", later_s, midi, stray[0]))
        elif fault == "cut" and after_s > 0.9 and self.figure.steps[index + 1].pick:
            verdicts = dict.fromkeys(wanted, "cut-short")
            self.silence(at_s + 0.22 * after_s)
        self.note(index, "pick", at_s, {string: verdicts.get(string) for string in wanted}, set())

    def pitch(self, string: int, step: Step) -> float:
        return self.instrument.pitch(string, step.fret, step.down)

    def again(self, strings: tuple[int, ...], at_s: float) -> None:
        for string in strings:
            if string in self.ringing:
                sound = self.ringing[string]
                midi = sound.points[-1][1]
                sound.end_s = at_s - 0.004
                self.ringing[string] = self.strike(sound.string, at_s, midi)
                self.truth.extras.append(Extra("extra-pick", at_s, midi, string))

    def move(self, index: int, at_s: float, before_s: float, after_s: float, fault: str | None) -> None:
        step, before = self.figure.steps[index], self.figure.steps[index - 1]
        over_s = step.over * self.beat_s
        slid = step.fret != before.fret
        shift = {s: self.pitch(s, step) - self.pitch(s, before) for s in self.ringing}
        moving = [string for string, by in shift.items() if abs(by) >= SAME]
        left_open = set(self.spoiled)
        off, verdict = 0.0, None
        if slid:
            self.bar, self.untuned = float(self.rng.uniform(-0.03, 0.03)), set()
        if fault == "tune" and slid:
            verdict, self.bar = self.detune()
        elif fault in {"late", "early"}:
            delay = self.delay(fault, before_s - over_s - 0.1, after_s)
            if delay is not None:
                at_s, after_s, verdict = at_s + delay, after_s - delay, fault
        elif fault == "stay" and moving and (slid or len(moving) == len(self.ringing)):
            verdict = "missed-move"
        elif fault == "far" and slid and moving:
            off, verdict = 2.0 * float(np.sign(shift[moving[0]])), "wrong-note"
        if verdict != "missed-move":
            for string, sound in self.ringing.items():
                if abs(shift[string]) > 0.01 or slid:
                    sound.glide(over_s, at_s, self.pitch(sound.string, step) + self.bar + off)
            if slid:
                self.take.slides.append((at_s - over_s, at_s))
        if verdict in {"missed-move", "wrong-note"}:
            self.spoiled |= set(self.ringing)
        self.note(index, "arrive", at_s, dict.fromkeys(moving, verdict), left_open)
        if verdict in {"flat", "sharp"}:
            self.untuned = set(self.ringing)
        if fault == "twice" and after_s > 0.8:
            self.again(tuple(self.ringing), at_s + 0.45 * after_s)

    def note(self, index: int, kind: str, at_s: float, verdicts: dict[int, str | None], left_open: set[int]) -> None:
        for string, verdict in verdicts.items():
            if string in left_open:
                continue
            checkpoint = Checkpoint(index + 1, string, kind, at_s, verdict)
            if verdict in {"missed", "wrong-note", "missed-move"}:
                checkpoint.open_groups |= {"timing", "intonation", "ends"}
            if verdict == "cut-short" or (kind == "arrive" and string in self.untuned):
                checkpoint.open_groups.add("intonation")
            self.truth.checkpoints.append(checkpoint)
