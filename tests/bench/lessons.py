"""Lessons by chance: musical enough and playable, always the same for the same set and seed.

Out comes the TOML text of a lesson with four to six figures. A set is a kind of playing: double stops, grips of three
strings, one string with many moves, single-note lines; the same on other copedents where `configs/copedents` has them.
What hands and feet cannot do together (two pedals that lie apart, one knee pushed both ways) is not asked for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from pathlib import Path
from typing import TypeVar

import numpy as np

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Bar, Lesson, Stance
from livecheck.lesson.reading import read_copedent, read_lesson
from tests.bench.hands import SETS, Hands, branch_of, hands_of

__all__ = ["SETS", "available", "find_copedent", "parse", "write"]

Choice = TypeVar("Choice")

COPEDENTS = Path(__file__).parents[2] / "configs" / "copedents"
ROLLS = (0.1, 0.2, 0.25)
HIGHEST_TOUCHED = 76.0
"""A higher string gives no harmonic that the instruments here could play."""


def find_copedent(name: str) -> Copedent:
    path = COPEDENTS / f"{name}.toml"
    return read_copedent(path.read_text(encoding="utf-8"), path.name)


def parse(text: str, where: str) -> Lesson:
    """The lesson as livecheck itself reads it."""
    return read_lesson(text, where, find_copedent)


def write(name: str, seed: int) -> str:
    """The TOML text of the lesson with this seed in a set."""
    return _Writer(hands_of(name), np.random.default_rng((branch_of(name), seed, 1)), f"{name} {seed}").text()


@dataclass(frozen=True)
class _State:
    """What is held and what rings."""

    stance: Stance
    ringing: frozenset[int]


class _Writer:
    def __init__(self, hands: Hands, rng: np.random.Generator, title: str) -> None:
        self.hands, self.rng, self.title = hands, rng, title
        self.copedent = find_copedent(hands.copedent)
        self.feet = [feet for feet in hands.feet if set(feet) <= self.copedent.changes.keys()]
        count = len(self.copedent.strings)
        self.groups = hands.groups or tuple(combinations(range(1, count + 1), hands.voices))
        self.touched = False
        """Whether the last pick was a harmonic."""
        self.held_since = Fraction(1)
        """The beat of the last pick or bar move."""
        self.foot_moved = Fraction(0)
        """The beat of the last event, if that was a move of the feet alone; else 0."""

    def text(self) -> str:
        tempo = int(self.rng.integers(60, 121))
        lines = [
            "format = 1", f'title = "{self.title}"', f"tempo = {tempo}", f'copedent = "{self.hands.copedent}"',
        ]  # fmt: skip
        if self.hands.frills and self.rng.random() < 0.4:
            lines.append(f"reference = {self._pick((438, 440, 440, 442, 445))}")
        beginnings: set[tuple[int, ...]] = set()
        for number in range(1, int(self.rng.integers(4, 7)) + 1):
            figure = self._figure(beginnings)
            lines += ["", "[[figure]]", f'name = "{number}"', *figure]
        return "\n".join(lines) + "\n"

    def _figure(self, beginnings: set[tuple[int, ...]]) -> list[str]:
        """One figure, of at least three events; no two of a lesson begin on the same pitches."""
        while True:
            length = int(self.rng.integers(4, 9))
            steps, first = self._steps(length)
            if len(steps) >= 3 and first not in beginnings:
                beginnings.add(first)
                return [f"length = {length}", "steps = [", *(f"  {{ {step} }}," for step in steps), "]"]

    def _steps(self, length: int) -> tuple[list[str], tuple[int, ...]]:
        state = self._start(self._pick(self.groups))
        group = tuple(sorted(state.ringing))
        first = tuple(sorted(round(state.stance.midi(s, self.copedent)) for s in group))
        steps = [self._pick_text(Fraction(1), None, state, group, self._swell())]
        self.touched, self.held_since, self.foot_moved = False, Fraction(1), Fraction(0)
        beat = Fraction(1) + self._pick(self.hands.gaps)
        gap = beat - 1
        while beat <= length - Fraction(1, 2) + 1 and beat < length + 1:
            if len(steps) >= 2 and self.hands.voices > 1 and self.rng.random() < 0.08 and length + 1 - beat >= 1:
                steps.append(f'beat = {_beat(beat)}, block = "all"')
                state = _State(state.stance, frozenset())
            else:
                text, state, group = self._event(beat, gap, length + 1 - beat, state, group)
                if text is not None:
                    steps.append(text)
            gap = self._pick(self.hands.gaps)
            beat += gap
        return steps, first

    def _event(
        self, beat: Fraction, gap: Fraction, left: Fraction, state: _State, group: tuple[int, ...]
    ) -> tuple[str | None, _State, tuple[int, ...]]:
        if not state.ringing or self.rng.random() < self.hands.pick_share:
            return self._new_pick(beat, left, state, group)
        moved = self._move(beat, gap, state)
        return (None, state, group) if moved is None else (*moved, group)

    def _new_pick(
        self, beat: Fraction, left: Fraction, state: _State, group: tuple[int, ...]
    ) -> tuple[str | None, _State, tuple[int, ...]]:
        if (
            self.hands.repeat_share
            and state.ringing == frozenset(group)
            and self.rng.random() < self.hands.repeat_share
        ):
            extra = self._swell()
            self.touched, self.held_since, self.foot_moved = False, beat, Fraction(0)
            return self._pick_text(beat, state.stance, state, group, extra), state, group
        for _ in range(50):
            near = [g for g in self.groups if abs(np.mean(g) - np.mean(group)) <= 2.5]
            other = self._pick(near)
            same = self.rng.random() < 0.5
            stance = state.stance if same else self._near(state.stance, self.rng.random() < 0.5)
            stance = Stance(stance.bar, stance.down)
            keeps = (
                state.ringing - set(other)
                if same
                and not self.touched
                and not state.stance.pull
                and self.hands.voices < 3
                and self.rng.random() < 0.15
                else frozenset()
            )
            after = _State(stance, frozenset(other) | keeps)
            if self._sounds_well(after):
                extra = {"ring": "true"} if keeps else {}
                rolls = len(other) > 1 and max(ROLLS) * (len(other) - 1) < min(self.hands.gaps)
                if rolls and not keeps and left >= 1 and self.rng.random() < 0.12:
                    extra["roll"] = str(self._pick(ROLLS))
                if self.hands.frills and not keeps:
                    extra |= self._frill(after)
                if not keeps and "roll" not in extra:
                    extra |= self._swell()
                self.touched, self.held_since, self.foot_moved = "harmonic" in extra, beat, Fraction(0)
                return self._pick_text(beat, state.stance, after, other, extra), after, other
        return None, state, group

    def _swell(self) -> dict[str, str]:
        return {"swell": "true"} if self.hands.swell_share and self.rng.random() < self.hands.swell_share else {}

    def _frill(self, state: _State) -> dict[str, str]:
        if self.rng.random() < 0.08:
            return {"swell": "true"}
        highest = max(state.stance.midi(s, self.copedent) for s in state.ringing)
        if highest < HIGHEST_TOUCHED and self.rng.random() < 0.12:
            return {"harmonic": str(self._pick((12, 12, 12, 7)))}
        return {}

    def _move(self, beat: Fraction, gap: Fraction, state: _State) -> tuple[str, _State] | None:
        for _ in range(60):
            kind = self._pick(("bar", "bar", "feet", "feet", "both"))
            stance = self._near(state.stance, kind in ("feet", "both"), kind in ("bar", "both"), state.ringing)
            after = _State(stance, state.ringing)
            changes = [
                abs(stance.midi(s, self.copedent) - state.stance.midi(s, self.copedent)) for s in sorted(state.ringing)
            ]
            heard = all(change == 0.0 or change >= 0.499 for change in changes) and max(changes) >= 0.499
            if heard and self._sounds_well(after) and not _opens(state.stance, stance):
                parts = [f"beat = {_beat(beat)}", *self._stance_text(state.stance, stance)]
                over = self._over(beat, gap, state.stance.bar != stance.bar, _feet(state.stance) != _feet(stance))
                parts += [] if over == 0.25 else [f"over = {over}"]
                if not _is_open(stance) and self.rng.random() < 0.1:
                    parts.append("vibrato = true")
                return ", ".join(parts), after
        return None

    def _over(self, beat: Fraction, gap: Fraction, bar: bool, feet: bool) -> float:
        """How long a move takes, in beats; now and then a slide begins while the feet still move."""
        overs = [over for over in (0.25, 0.25, 0.5, 0.75, 1.0) if over <= float(gap) * 0.55]
        over = self._pick(overs or [0.2])
        overlaps = self.foot_moved - self.held_since >= Fraction(3, 4) and bar and not feet
        if self.hands.frills and overlaps and self.rng.random() < 0.5:
            over = float(beat - self.foot_moved) + 0.25
        self.foot_moved = beat if feet and not bar else Fraction(0)
        self.held_since = beat if bar else self.held_since
        return over

    def _start(self, group: tuple[int, ...]) -> _State:
        while True:
            fret = int(self.rng.integers(self.hands.lowest_fret, self.hands.highest_fret + 1))
            feet = dict.fromkeys(self._pick(self.feet), 1.0)
            state = _State(Stance(Bar.straight(fret), feet), frozenset(group))
            if self._sounds_well(state):
                return state
            group = self._pick(self.groups)

    def _near(self, stance: Stance, feet: bool, bar: bool = True, ringing: frozenset[int] = frozenset()) -> Stance:
        """Another stance within reach of this one; with strings ringing on a lap steel, also slants and pulls."""
        frets = list(self._bars(stance.bar)) if bar else [stance.bar]
        if self.hands.slants and ringing:
            if feet:
                pull = {} if stance.pull else {self._pick(sorted(ringing)): float(self._pick((1, 1, 2)))}
                return Stance(self._pick(frets), {}, pull)
            if bar and self.rng.random() < 0.4:
                return Stance(self._slant(self._pick(frets), ringing), {}, stance.pull)
            return Stance(self._pick(frets), {}, stance.pull)
        down: Mapping[str, float] = stance.down
        if feet:
            down = dict.fromkeys(self._pick(self.feet), 1.0)
            if len(down) == 1 and self.rng.random() < 0.15:
                down = dict.fromkeys(down, 0.5)
        return Stance(self._pick(frets), down)

    def _slant(self, bar: Bar, ringing: frozenset[int]) -> Bar:
        """The bar turned so that one end lies a fret or two further up."""
        fret = bar.frets[0][1]
        low, high = min(ringing), max(ringing)
        by = float(self._pick((-1, 1) if high - low < 2 else (-2, -1, 1, 2)))
        if low == high or fret + by < 1.0:
            return bar
        return Bar.slanted({low: fret, high: fret + by})

    def _bars(self, bar: Bar) -> list[Bar]:
        fret = round(np.mean([f for _, f in bar.frets]))
        near = [Bar.straight(float(fret + d)) for d in self.hands.reach]
        return [b for b in near if self.hands.lowest_fret <= b.frets[0][1] <= self.hands.highest_fret] or [bar]

    def _sounds_well(self, state: _State) -> bool:
        pitches = sorted(state.stance.midi(s, self.copedent) for s in state.ringing)
        steps = [high - low for low, high in combinations(pitches, 2)]
        if any(step < self.hands.least_apart for step in steps):
            return False
        rough = [step for step in steps if round(step) not in self.hands.intervals]
        return not rough or (len(rough) == 1 and self.rng.random() < 0.1)

    def _pick_text(
        self, beat: Fraction, before: Stance | None, state: _State, strings: tuple[int, ...], extra: Mapping[str, str]
    ) -> str:
        order = sorted(strings, reverse=True)
        parts = [f"beat = {_beat(beat)}", *self._stance_text(before, state.stance), f"pick = {order}"]
        return ", ".join([*parts, *(f"{key} = {value}" for key, value in extra.items())])

    def _stance_text(self, before: Stance | None, stance: Stance) -> list[str]:
        parts = []
        if before is None or before.bar != stance.bar:
            if stance.bar.is_straight:
                parts.append(f"fret = {stance.bar.frets[0][1]:g}")
            else:
                parts.append("slant = { " + ", ".join(f"{s} = {f:g}" for s, f in stance.bar.frets) + " }")
        if before is not None and dict(before.pull) != dict(stance.pull):
            parts.append("pull = { " + ", ".join(f"{s} = {p:g}" for s, p in stance.pull.items()) + " }")
        if before is None or dict(before.down) != dict(stance.down):
            if all(amount == 1.0 for amount in stance.down.values()):
                parts.append("down = [" + ", ".join(f'"{name}"' for name in stance.down) + "]")
            else:
                parts.append(
                    "down = { " + ", ".join(f"{name} = {amount:g}" for name, amount in stance.down.items()) + " }"
                )
        return parts

    def _pick(self, options: Sequence[Choice]) -> Choice:
        return options[int(self.rng.integers(len(options)))]


def _beat(beat: Fraction) -> str:
    return str(beat.numerator) if beat.denominator == 1 else f"{float(beat):g}"


def _feet(stance: Stance) -> tuple[dict[str, float], dict[int, float]]:
    return dict(stance.down), dict(stance.pull)


def _is_open(stance: Stance) -> bool:
    return all(fret == 0.0 for _, fret in stance.bar.frets)


def _opens(before: Stance, after: Stance) -> bool:
    """A ringing string cannot slide to or from the open position."""
    return before.bar != after.bar and (_is_open(before) or _is_open(after))


def available() -> list[str]:
    """The sets whose copedent is there."""
    return [name for name, hands in SETS.items() if (COPEDENTS / f"{hands.copedent}.toml").exists()]
