"""A lesson from what was played: lines in, a lesson and what is unsure about it out.

The tuning is the middle of all pitches, the beat what explains best when things happened, a figure what lies between
two breaths. Where hands and feet are comes from the neck. Seconds from the start of the take.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from livecheck.drafting.fingering import Fingered, finger, tuning_of, tuning_on
from livecheck.drafting.happening import Happening, happenings
from livecheck.drafting.letting_ring import let_ring
from livecheck.drafting.line import Line
from livecheck.drafting.phrases import phrases
from livecheck.drafting.pulse import Placed, beat_of, place_between, places_of
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Figure, Lesson, Step
from livecheck.lesson.pitch import name_of
from livecheck.neck.neck import Neck
from livecheck.neck.passage import Alternative

OVERS = tuple(map(Fraction, ("1/4", "1/2", "3/4", "1", "3/2", "2", "3", "4")))
"""Beats that a move may be written to take."""
LEAST_OVER = Fraction(1, 8)
ROLLS = tuple(map(Fraction, ("1/20", "1/10", "3/20", "1/5", "1/4", "1/3")))
LEAST_REST = Fraction(1, 2)
"""A silence at a figure's end that is shorter is not written."""
LEAST_SHARE = Fraction(2, 3)
"""Of its written time, that a note is held which ends before its figure does."""
NEAR_WHOLE = Fraction(1, 3)
"""A string that rings on so little beyond a beat was to end on it."""
UNSURE_MARGIN, UNSURE_ODDS, UNSURE_S = 0.012, 1.0, 0.06
MOST_ALTERNATIVES = 2
NEAR_FRETS = 1.5
"""An alternative that moves by so much more is not worth telling."""


@dataclass(frozen=True)
class StepDraft:
    """How a step came about."""

    step: int
    time_s: float
    strings: tuple[int, ...]
    """Those that ring once it is complete."""
    alternatives: tuple[Alternative, ...]
    """Other positions for it, the next-best first."""


@dataclass(frozen=True)
class Draft:
    lesson: Lesson
    figures: tuple[tuple[StepDraft, ...], ...]
    """For each figure, the steps that need a position."""
    starts_s: tuple[float, ...]
    """When each figure began."""
    tuning_cents: float
    doubts: int
    """Steps that carry a remark."""


def draft(
    lines: Sequence[Line], copedent: Copedent, copedent_name: str, title: str, tempo: float | None = None
) -> Draft | None:
    """The lesson that asks for what was played; None where nothing was. `tempo`: beats a minute, if it is known."""
    lines = let_ring(lines)
    runs = phrases(happenings(lines), lines)
    if not runs:
        return None
    times_s = [[one.time_s for one in run if one.picked or one.moved] for run in runs]
    beat_s = beat_of(times_s, tempo)
    neck = Neck(copedent, halves=True)
    tuning = tuning_of(lines)
    fingered = finger(runs, lines, neck, tuning)
    better = tuning_on(fingered, lines, neck)
    if better is not None and abs(better - tuning) > 0.05:
        tuning = better
        fingered = finger(runs, lines, neck, tuning)
    starts_s = [run[0].time_s for run in runs]
    builders = [
        _Builder(run, hands, lines, beat_s, until_s)
        for run, hands, until_s in zip(runs, fingered, [*starts_s[1:], float("inf")], strict=True)
        if hands
    ]
    figures = [builder.figure(str(number)) for number, builder in enumerate(builders, start=1)]
    if not figures:
        return None
    lesson = Lesson(title, float(tempo or round(60.0 / beat_s)), "4/4", copedent, copedent_name, tuple(figures))
    doubts = sum(bool(step.remark) for figure in figures for step in figure.steps)
    return Draft(
        lesson,
        tuple(tuple(builder.drafts) for builder in builders),
        tuple(builder.start_s for builder in builders),
        100.0 * tuning,
        doubts,
    )


class _Builder:
    """Makes one figure."""

    def __init__(
        self, run: Sequence[Happening], hands: Sequence[Fingered], lines: Sequence[Line], beat_s: float, until_s: float
    ) -> None:
        self._run = run
        self._hands = {one.happening.time_s: one for one in hands}
        self._lines = lines
        self._beat_s = beat_s
        self._until_s = until_s
        self.start_s = run[0].time_s
        self.drafts: list[StepDraft] = []
        self._steps: list[Step] = []
        self._ringing: dict[int, int] = {}
        """Line -> string."""

    def figure(self, name: str) -> Figure:
        played = [one for one in self._run if one.picked or one.moved]
        places = places_of([one.time_s for one in played], self._beat_s)
        length = self._length(places)
        for one, place in sorted([*zip(played, places, strict=True), *self._silences(played, places)], key=_beat):
            if place.beat < 1 + length:
                self._add(one, place, length)
        return Figure(name, length, tuple(self._steps))

    def _silences(self, played: Sequence[Happening], places: Sequence[Placed]) -> Iterator[tuple[Happening, Placed]]:
        """Silences lie between what is played and move none of it."""
        times_s = [one.time_s for one in played]
        for one in self._run:
            if not (one.picked or one.moved):
                index = bisect_right(times_s, one.time_s)
                before, after = places[index - 1], places[index] if index < len(places) else None
                beat = float(before.beat) + (one.time_s - times_s[index - 1]) / self._beat_s
                if after is not None:
                    share = (one.time_s - times_s[index - 1]) / (times_s[index] - times_s[index - 1])
                    beat = float(before.beat) + share * float(after.beat - before.beat)
                yield one, place_between(beat, self._beat_s, before.beat, after.beat if after else None)

    def _length(self, places: Sequence[Placed]) -> Fraction:
        """Whole beats until nothing rings, or until the next figure begins."""
        last = places[-1].beat
        ends_s = max(self._lines[line].end_s for one in self._hands.values() for line in one.lines)
        whole = Fraction(max(1, round((ends_s - self.start_s) / self._beat_s + 0.5 - float(NEAR_WHOLE))))
        room = Fraction(round((self._until_s - self.start_s) / self._beat_s * 2), 2) if self._until_s < 1e9 else whole
        return max(min(whole, room), last - 1 + Fraction(1, 2))

    def _add(self, one: Happening, place: Placed, length: Fraction) -> None:
        hand = self._hands.get(one.time_s)
        if hand is not None:
            self._play(hand, place)
        # What dies away by itself is no matter of hands.
        silenced = [line for line in one.silenced if line in self._ringing and self._lines[line].damped]
        if silenced and self._is_rest(place, length):
            strings = frozenset(self._ringing.pop(line) for line in silenced)
            before = self._steps[-1]
            if before.beat == place.beat and before.block:
                strings |= before.block
                before = self._steps.pop()
            block = strings if self._ringing else None
            if self._steps[-1].beat < place.beat:
                self._steps.append(Step(len(self._steps) + 1, place.beat, before.stance, LEAST_OVER, block=block))

    def _is_rest(self, place: Placed, length: Fraction) -> bool:
        """Whether a silence is written: it is long, or the figure's last note would seem longer than it was."""
        end, before = 1 + length, self._steps[-1].beat
        return place.beat <= end - LEAST_REST or place.beat - before < LEAST_SHARE * (end - before)

    def _play(self, hand: Fingered, place: Placed) -> None:
        before = self._steps[-1] if self._steps else None
        stance, strings = hand.position.stance, hand.strings
        moves_bar = before is not None and stance.bar != before.stance.bar
        moves_changes = before is not None and stance.down != before.stance.down
        if not hand.picked and not (moves_bar or moves_changes):
            return
        kept = frozenset(strings[line] for line in hand.lines if line not in hand.picked and line in self._ringing)
        step = Step(
            len(self._steps) + 1,
            place.beat,
            stance,
            self._over(hand, place),
            moves_bar,
            moves_changes,
            tuple(strings[line] for line in hand.picked),
            kept if hand.picked else frozenset(),
            self._roll(hand),
            vibrato=self._has_vibrato(hand) and not any(earlier.vibrato for earlier in self._steps),
            remark=self._remark(hand, place),
        )
        self._steps.append(step)
        self._ringing = dict(strings)
        near = [other for other in hand.choice.alternatives if other.extra_frets <= NEAR_FRETS]
        told = tuple(near[:MOST_ALTERNATIVES])
        self.drafts.append(StepDraft(step.number, hand.happening.time_s, hand.position.strings, told))

    def _over(self, hand: Fingered, place: Placed) -> Fraction:
        held = max((step.beat for step in self._steps if step.pick or step.is_move), default=None)
        room = place.beat - held if held is not None else OVERS[0]
        over = hand.happening.over_s / self._beat_s
        return min(min(OVERS, key=lambda written: abs(float(written) - over)), room)

    def _roll(self, hand: Fingered) -> Fraction:
        roll = hand.happening.roll_s / self._beat_s
        if not roll or len(hand.picked) < 2:
            return Fraction(0)
        return min(ROLLS, key=lambda written: abs(float(written) - roll))

    def _has_vibrato(self, hand: Fingered) -> bool:
        if hand.position.is_open:
            return False
        rests = [rest for line in hand.lines for rest in self._lines[line].rests if self._is_now(rest.arrived_s, hand)]
        return bool(rests) and all(rest.vibrato for rest in rests)

    @staticmethod
    def _is_now(time_s: float, hand: Fingered) -> bool:
        return abs(time_s - hand.happening.time_s) < 0.1

    def _remark(self, hand: Fingered, place: Placed) -> str:
        return "; ".join(dict.fromkeys(self._doubts(hand, place)))

    def _doubts(self, hand: Fingered, place: Placed) -> Iterator[str]:
        """What a teacher should listen to again."""
        picked = [self._lines[line] for line in hand.picked]
        names = " and ".join(name_of(line.rests[0].midi) for line in picked)
        if any(line.odds < UNSURE_ODDS for line in picked):
            yield f"unsure whether {names} {'was' if len(picked) == 1 else 'were'} picked here"
        if any(line.margin < UNSURE_MARGIN for line in picked):
            yield f"unsure of the notes: {names}, or an octave or one string more or less"
        if abs(place.off_s) > UNSURE_S:
            where = "late" if place.off_s > 0.0 else "early"
            yield f"unsure of the beat: heard {1000.0 * abs(place.off_s):.0f} ms {where}"
        yield from hand.doubts


def _beat(placed: tuple[Happening, Placed]) -> Fraction:
    return placed[1].beat
