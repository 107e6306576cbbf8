"""Lessons made up by chance, right by construction: values, not files.

What a lesson's rules ask for is kept here step by step (what rings, where a move may begin), apart from the code that
reads lessons, so that the two can be held against each other.
"""

from __future__ import annotations

from fractions import Fraction
from random import Random

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Bar, Figure, Lesson, Stance, Step
from livecheck.lesson.pitch import NAMES, parse_name

WIDTHS = (Fraction(1), Fraction(1, 2), Fraction(3, 2), Fraction(1, 3), Fraction(2), Fraction(7, 10), Fraction(1, 16))
"""Beats between two steps."""
USUAL_OVER = Fraction(1, 4)
WORDS = ("", "slowly", "lever off before the bar", 'let it "ring"', "übers Knie", "a\\b")
CHANGES = ("A", "B", "C", "LKL", "RKR", "P 1")


def copedent(rng: Random) -> Copedent:
    """An instrument of 1 to 12 strings; cents and changes are whole hundredths of a semitone."""
    strings = tuple(
        parse_name(f"{rng.choice(NAMES)}{rng.randint(1, 5)}") + rng.choice((0.0, rng.randint(-49, 49) / 100.0))
        for _ in range(rng.randint(1, 12))
    )
    numbers = range(1, len(strings) + 1)

    def pulls() -> dict[int, float]:
        chosen = rng.sample(numbers, rng.randint(1, min(3, len(strings))))
        return {string: rng.choice((-2.0, -1.0, -0.5, 0.98, 1.0, 2.0, 12.0)) for string in chosen}

    changes = {name: pulls() for name in rng.sample(CHANGES, rng.randint(0, len(CHANGES)))}
    pairs = {frozenset(rng.sample(sorted(changes), 2)): pulls()} if len(changes) > 1 and rng.random() < 0.4 else {}
    return Copedent("made up", strings, changes, pairs)


def lesson(rng: Random) -> Lesson:
    """One to three figures of up to ten steps."""
    own = copedent(rng)
    return Lesson(
        title=rng.choice(("Study", "Übung 3", "A title that is longer than any teacher would write " * 2)),
        tempo=rng.choice((1.0, 60.0, 84.5, 1000.0)),
        meter=rng.choice(("4/4", "6/8", "99/32")),
        copedent=own,
        copedent_name="made-up.toml",
        figures=tuple(_Inventor(rng, own).figure(str(number)) for number in range(1, rng.randint(1, 3) + 1)),
        tolerances=rng.choice(("standard", "strict")),
        reference_hz=rng.choice((None, 440.0, 442.5)),
    )  # fmt: skip


class _Inventor:
    """Makes up the steps of one figure."""

    def __init__(self, rng: Random, own: Copedent) -> None:
        self.rng = rng
        self.own = own
        self.strings = range(1, len(own.strings) + 1)

    def figure(self, name: str) -> Figure:
        rng = self.rng
        beat, steps = Fraction(1) + rng.choice((Fraction(0), Fraction(1, 2))), list[Step]()
        ringing: frozenset[int] = frozenset()
        bar_since = changes_since = beat
        for number in range(1, rng.randint(1, 10) + 1):
            before = steps[-1].stance if steps else None
            strikes = number == 1 or rng.random() < 0.5
            stance = self._stance(before, strikes or bool(ringing))
            pick = tuple(rng.sample(self.strings, rng.randint(1, min(4, len(self.strings))))) if strikes else ()
            moves_bar = before is not None and stance.bar != before.bar
            moves_changes = before is not None and (stance.down, stance.pull) != (before.down, before.pull)
            room = min([beat - bar_since] * moves_bar + [beat - changes_since] * moves_changes, default=None)
            keeps = rng.choice((frozenset[int](), None, self._some())) if pick else frozenset[int]()
            block = rng.choice((frozenset[int](), frozenset[int](), None, self._some()))
            roll = rng.choice((Fraction(0), Fraction(1, 10), Fraction(1, 48))) if pick else Fraction(0)
            step = Step(
                number=number, beat=beat, stance=stance, over=self._over(room),
                moves_bar=moves_bar, moves_changes=moves_changes, pick=pick, keeps=keeps, roll=roll,
                harmonic=rng.choice((None, None, 5, 7, 12)) if pick else None,
                swell=bool(pick) and rng.random() < 0.2, block=block,
                vibrato=rng.random() < 0.2, remark=rng.choice(WORDS),
            )  # fmt: skip
            steps.append(step)
            ringing = frozenset() if block is None else ringing - block
            if pick:
                ringing = (ringing if keeps is None else ringing & keeps) | frozenset(pick)
            bar_since = beat if moves_bar else bar_since
            changes_since = beat if moves_changes else changes_since
            beat += rng.choice(WIDTHS) + roll * max(len(pick) - 1, 0)
        return Figure(name, beat - 1 + rng.choice((Fraction(0), Fraction(1), Fraction(50))), tuple(steps))

    def _some(self) -> frozenset[int]:
        return frozenset(self.rng.sample(self.strings, self.rng.randint(1, len(self.strings))))

    def _over(self, room: Fraction | None) -> Fraction:
        """What a move may take, or what it takes where nothing is said."""
        if room is None:
            return USUAL_OVER
        return self.rng.choice((min(USUAL_OVER, room), room, room / 3))

    def _stance(self, before: Stance | None, may_move: bool) -> Stance:
        """Where hands and feet go next; where a move would move nothing they stay."""
        rng = self.rng
        if before is not None and (not may_move or rng.random() < 0.2):
            return before
        bar = self._bar() if before is None or rng.random() < 0.5 else before.bar
        names = rng.sample(sorted(self.own.changes), rng.randint(0, min(3, len(self.own.changes))))
        down = {name: rng.choice((1.0, 1.0, 0.5, 0.25)) for name in names}
        pull = {rng.choice(self.strings): rng.choice((0.5, 1.0, 2.0))} if rng.random() < 0.2 else {}
        return Stance(bar, down, pull)

    def _bar(self) -> Bar:
        """Straight, or slanted so that no string is left of the nut or beyond the neck."""
        fret = self.rng.choice((0.0, 3.0, 10.0, 12.5, 24.0))
        if len(self.strings) < 2 or self.rng.random() < 0.7:
            return Bar.straight(fret)
        first, last = sorted(self.rng.sample(self.strings, 2))
        ends = Bar.slanted({1: 12.0, len(self.strings): 12.0 + self.rng.choice((-2.0, -0.5, 1.0, 2.0))})
        return Bar.slanted({first: ends.fret_at(first), last: ends.fret_at(last)})
