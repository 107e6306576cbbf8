"""A figure as a player performs it: strings struck at some time, with the pitch that hands and feet give them.

Bar and feet are played apart, as they are by a player: each step has a bar position, an offset of some cents, pedal
levels, and the times at which bar and feet get there. What sounds follows from them. Seconds from the start of the
take; MIDI numbers with decimals, without the tuning of the take.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import HARMONIC_SEMITONES, Expectation, Note
from livecheck.lesson.figure import Bar, Step
from tests.bench.habit import NONE, Habit
from tests.bench.slips import Slip

GRID_S = 0.002
PICK_MS, ARRIVAL_MS, GAP_SHARE = 80.0, 100.0, 0.25
"""The standard time tolerances."""

SCOOPED_SHARE = 2.0 / 3.0

Curve = NDArray[np.float64]


@dataclass(frozen=True)
class Manner:
    """How this player plays throughout a take."""

    beat_s: float
    roundness: float
    """0: glides linear in pitch; 1: starting and ending gently."""
    vibrato_cents: float
    vibrato_hz: float
    loose_vibrato: bool
    """Vibrato also where the lesson does not ask for it."""
    cents: float = 2.5
    jitter_s: float = 0.008
    habit: Habit = NONE


@dataclass(frozen=True)
class Glide:
    """One change of a curve: from when to when, and by how much."""

    start_s: float
    end_s: float
    step: int
    semitones: float


@dataclass(frozen=True)
class Struck:
    """One string from when it is struck until it is silent or struck again."""

    string: int
    start_s: float
    end_s: float
    times_s: Curve
    midis: Curve
    """As sounded, vibrato included."""
    plain: Curve
    """Without vibrato."""
    glides: tuple[Glide, ...]
    gain: float
    swell: bool = False
    again_s: tuple[float, ...] = ()
    """When it is struck again without being asked to."""

    def midi_at(self, time_s: float) -> float:
        return float(np.interp(time_s, self.times_s, self.plain))


@dataclass(frozen=True)
class Performance:
    """One attempt at a figure. `notes` are in the order of the expectation's; None where nothing was struck."""

    expectation: Expectation
    start_s: float
    beat_s: float
    notes: tuple[Struck | None, ...]
    strays: tuple[Struck, ...] = ()
    broken_s: float | None = None
    """When the player stopped in the middle, to begin anew."""

    def time_of(self, beat: float) -> float:
        return self.start_s + (beat - 1.0) * self.beat_s

    @property
    def sounded(self) -> tuple[Struck, ...]:
        return (*(note for note in self.notes if note is not None), *self.strays)

    def broken_at(self, time_s: float) -> Performance:
        """The same, stopped at a time."""
        notes = tuple(
            None if note is None or note.start_s > time_s - 0.1 else replace(note, end_s=min(note.end_s, time_s))
            for note in self.notes
        )
        return replace(self, notes=notes, broken_s=time_s)


@dataclass
class _Hold:
    """Where bar and feet are once a step is complete, and when they got there."""

    bar: Bar
    bar_cents: float
    levels: dict[str, float]
    pull: Mapping[int, float]
    pick_s: float
    bar_end_s: float
    bar_s: float
    foot_end_s: float
    foot_s: float
    strings_s: dict[int, float] = field(default_factory=dict)
    scoop_cents: float = 0.0


def tolerance_s(expectation: Expectation, step: int, beat_s: float, pick: bool) -> float:
    """How far off a step's picks or arrivals may be."""
    beats = [float(s.beat) for s in expectation.figure.steps]
    here = beats[step - 1]
    gap = min((abs(beat - here) for beat in beats if beat != here), default=np.inf)
    return min((PICK_MS if pick else ARRIVAL_MS) / 1000.0, GAP_SHARE * gap * beat_s)


def shape(share: Curve, roundness: float) -> Curve:
    """How far a glide has come: linear, or the smoothest start and stop, or between."""
    u = np.clip(share, 0.0, 1.0)
    return np.asarray((1.0 - roundness) * u + roundness * u**3 * (10.0 - 15.0 * u + 6.0 * u**2))


def heard_end(roundness: float) -> float:
    """Where in a glide, as a share of it, the line through its 20 % and 80 % points reaches the new pitch."""
    u = np.linspace(0.0, 1.0, 4001)
    low, high = np.interp([0.2, 0.8], shape(u, roundness), u)
    return float(low + (high - low) / 0.6 * 0.8)


class Player:
    """Performs one figure with slips."""

    def __init__(
        self, expectation: Expectation, copedent: Copedent, manner: Manner, start_s: float, until_s: float,
        slips: Sequence[Slip], rng: np.random.Generator,
    ) -> None:  # fmt: skip
        self.expectation, self.copedent, self.manner = expectation, copedent, manner
        self.figure = expectation.figure
        self.start_s, self.until_s = start_s, until_s
        self.slips, self.rng = slips, rng
        self.rubato_s = self._rubato_s()
        self.holds = self._holds()

    def perform(self) -> Performance:
        notes = tuple(self._note(note) for note in self.expectation.notes)
        strays = tuple(self._stray(slip) for slip in self.slips if slip.kind == "stray")
        return Performance(self.expectation, self.start_s, self.manner.beat_s, notes, strays)

    def _time(self, beat: float) -> float:
        steady_s = self.start_s + (beat - 1.0) * self.manner.beat_s
        if not self.rubato_s:
            return steady_s
        return steady_s + float(np.interp(beat, list(self.rubato_s), list(self.rubato_s.values())))

    def _rubato_s(self) -> dict[float, float]:
        """How far from a steady tempo each beat of the figure is: a wave about the straight line through all of them,
        well within the tolerances."""
        beats = np.array(sorted({float(step.beat) for step in self.figure.steps}))
        if not self.manner.habit.rubato_s or len(beats) < 4:
            return {}
        turns = float(self.rng.uniform(0.8, 1.6)) / (beats[-1] - beats[0])
        wave = np.sin(2.0 * np.pi * (turns * (beats - beats[0]) + float(self.rng.random())))
        wave -= np.polyval(np.polyfit(beats, wave, 1), beats)
        narrowest_s = min(
            tolerance_s(self.expectation, step.number, self.manner.beat_s, bool(step.pick))
            for step in self.figure.steps
        )
        most_s = min(self.manner.habit.rubato_s, 0.5 * narrowest_s)
        return dict(zip(beats.tolist(), (most_s * wave / max(1e-6, float(np.abs(wave).max()))).tolist(), strict=True))

    def _slip(self, kind: str, step: int) -> Slip | None:
        return next((slip for slip in self.slips if slip.kind == kind and slip.step == step), None)

    def _jitter(self, step: int, pick: bool) -> float:
        tolerance = tolerance_s(self.expectation, step, self.manner.beat_s, pick)
        sigma = min(self.manner.jitter_s, 0.12 * tolerance)
        return float(np.clip(self.rng.normal(0.0, sigma), -2.2 * sigma, 2.2 * sigma))

    def _kept(self, step: Step) -> bool:
        """Whether anything rings on through a pick."""
        return any(
            note.start_beat < float(step.beat) and note.end_beat > float(step.beat) + 1e-9
            for note in self.expectation.notes
        )

    def _holds(self) -> list[_Hold]:
        holds: list[_Hold] = []
        asked: Mapping[str, float] = {}
        for step in self.figure.steps:
            before = holds[-1] if holds else None
            hold = self._hold(step, before, asked)
            holds.append(hold)
            asked = step.stance.down
        return holds

    def _hold(self, step: Step, before: _Hold | None, asked: Mapping[str, float]) -> _Hold:
        number, manner = step.number, self.manner
        fresh = before is None or (bool(step.pick) and not self._kept(step))
        time_s = self._time(float(step.beat))
        bar, cents = self._bar(step, before, fresh)
        levels = self._levels(step, before, fresh, asked)
        late = self._slip("late-picks", number)
        pick_s = time_s + self._jitter(number, True) + (late.amount if late else 0.0)
        moved_s = time_s + self._jitter(number, False)
        late_bar, late_foot = self._slip("late-bar", number), self._slip("late-foot", number)
        bar_end_s = moved_s + (late_bar.amount if late_bar else 0.0)
        foot_end_s = moved_s + float(self.rng.uniform(-0.006, 0.006)) + (late_foot.amount if late_foot else 0.0)
        if step.moves_bar and step.moves_changes and not late_bar and not late_foot:
            foot_end_s = bar_end_s
        over_s = float(step.over) * manner.beat_s * float(self.rng.uniform(0.8, 1.1))
        if manner.habit.slowness:
            over_s *= 1.0 + manner.habit.slowness * float(self.rng.uniform(0.5, 1.0))
        hold = _Hold(bar, cents, levels, step.stance.pull, pick_s, bar_end_s, over_s, foot_end_s, over_s)
        if manner.habit.apart_s and before is not None and foot_end_s == bar_end_s and not self._against(before, hold):
            hold.foot_end_s += self._sign() * manner.habit.apart_s * float(self.rng.uniform(0.6, 1.0))
        if step.pick:
            raked_s = 0.0 if step.roll else manner.habit.rake_s
            spread = np.sort(self.rng.uniform(0.0, 0.006, len(step.pick))) + np.linspace(0.0, raked_s, len(step.pick))
            for order, string in enumerate(step.pick):
                roll_s = float(step.roll) * order * manner.beat_s
                hold.strings_s[string] = pick_s + float(spread[order]) - 0.003 - 0.5 * raked_s + roll_s
            scooped = manner.habit.scoop_cents and fresh and not step.roll and all(fret > 2.5 for _, fret in bar.frets)
            if scooped and self.rng.random() < SCOOPED_SHARE:
                hold.scoop_cents = manner.habit.scoop_cents * float(self.rng.uniform(0.8, 1.0))
        return hold

    def _against(self, before: _Hold, after: _Hold) -> bool:
        """Whether bar and feet pull any string of the figure opposite ways: then it matters that they are together."""
        return any(
            (self._fret(after, string) - self._fret(before, string))
            * (self._shift(after, string) - self._shift(before, string))
            < 0.0
            for string in sorted({note.string for note in self.expectation.notes})
        )

    def _sign(self) -> float:
        return 1.0 if self.rng.random() < 0.5 else -1.0

    def _bar(self, step: Step, before: _Hold | None, fresh: bool) -> tuple[Bar, float]:
        unmoved = self._slip("bar-unmoved", step.number)
        if before is not None and (unmoved or not (fresh or step.moves_bar)):
            return before.bar, before.bar_cents
        bar = step.stance.bar
        wrong = self._slip("bar-fret", step.number)
        if wrong:
            bar = Bar(tuple((string, fret + wrong.amount) for string, fret in bar.frets))
        if all(fret == 0.0 for _, fret in bar.frets):
            return bar, 0.0
        off = self._slip("bar-cents", step.number)
        sigma = self.manner.cents
        cents = float(np.clip(self.rng.normal(0.0, sigma), -2.0 * sigma, 2.0 * sigma))
        return bar, off.amount if off else cents

    def _levels(self, step: Step, before: _Hold | None, fresh: bool, asked: Mapping[str, float]) -> dict[str, float]:
        levels: dict[str, float] = {}
        for name in sorted({*step.stance.down, *asked, *(before.levels if before else {})}):
            wanted, was = step.stance.down.get(name, 0.0), asked.get(name, 0.0)
            held = before.levels.get(name, 0.0) if before else 0.0
            forgotten = any(s.kind == "foot-unmoved" and s.step == step.number and s.pedal == name for s in self.slips)
            if forgotten:
                level = held if before else 0.0
            elif fresh or wanted != was:
                level = wanted
                if 0.0 < wanted < 1.0:
                    level += float(self.rng.uniform(-0.02, 0.02))
                short = self._slip("foot-cents", step.number)
                if short and short.pedal == name:
                    level -= short.amount / 100.0 / max(abs(v) for v in self.copedent.changes[name].values())
            else:
                level = held
            if level > 0.0:
                levels[name] = level
        return levels

    def _fret(self, hold: _Hold, string: int) -> float:
        return hold.bar.fret_at(string) + hold.bar_cents / 100.0

    def _shift(self, hold: _Hold, string: int) -> float:
        drop = 0.01 * self.manner.habit.cabinet_cents * min(1.0, sum(hold.levels.values()))
        return self.copedent.shift(string, hold.levels) + hold.pull.get(string, 0.0) - drop

    def _note(self, note: Note) -> Struck | None:
        first = note.checkpoints[0].step
        unstruck = self._slip("unstruck", first)
        if unstruck and note.string in unstruck.strings:
            return None
        other = self._slip("other-string", first)
        string = other.other if other and note.string in other.strings else note.string
        begin_s = self.holds[first - 1].strings_s[note.string]
        step = self.figure.steps[first - 1]
        raised = HARMONIC_SEMITONES[step.harmonic] if step.harmonic else 0.0
        again: Sequence[float] = sorted(
            self._time(float(self.figure.steps[slip.step - 1].beat)) + slip.amount
            for slip in self.slips
            if slip.kind == "struck-again" and note.string in slip.strings and self._rings_after(note, slip.step)
        )
        end_s = self._end(note, begin_s)
        again = tuple(time_s for time_s in again if begin_s + 0.05 < time_s < end_s - 0.05)
        return self._strike(string, first, begin_s, end_s, raised, swell=step.swell, again_s=tuple(again))

    def _rings_after(self, note: Note, step: int) -> bool:
        beat = float(self.figure.steps[step - 1].beat)
        return note.start_beat <= beat + 1e-9 < note.end_beat

    def _stray(self, slip: Slip) -> Struck:
        step = self.figure.steps[slip.step - 1]
        begin_s = self._time(float(step.beat)) + slip.amount
        following = (
            self._time(float(self.figure.steps[slip.step].beat)) if slip.step < len(self.figure.steps) else self.until_s
        )
        end_s = min(begin_s + float(self.rng.uniform(0.25, 0.6)), following - 0.03)
        first = slip.step
        while first > 1 and self._is_on_its_way(first, begin_s):
            first -= 1
        return self._strike(slip.other, first, begin_s, max(end_s, begin_s + 0.12), 0.0, carried=True)

    def _is_on_its_way(self, number: int, time_s: float) -> bool:
        """Whether bar or pedals are, or will be, on their way to a step; they are there when its strings are picked
        anew."""
        step, hold = self.figure.steps[number - 1], self.holds[number - 1]
        arrived_s = max(hold.bar_end_s + 0.5 * hold.bar_s, hold.foot_end_s + 0.5 * hold.foot_s)
        return time_s < arrived_s and (not step.pick or self._kept(step))

    def _strike(
        self, string: int, first: int, begin_s: float, end_s: float, raised: float, swell: bool = False,
        again_s: tuple[float, ...] = (), carried: bool = False,
    ) -> Struck:  # fmt: skip
        """`carried`: whether bar and pedals may be on their way when it is struck."""
        hold = self.holds[first - 1]
        times = np.arange(begin_s, end_s + GRID_S, GRID_S)
        base = self.copedent.open_midi(string) + raised + self._fret(hold, string) + self._shift(hold, string)
        plain = np.full(len(times), base)
        glides = self._glides(string, first, -math.inf if carried else begin_s + 0.03, end_s)
        for glide in glides:
            share = (times - glide.start_s) / max(1e-6, glide.end_s - glide.start_s)
            plain += glide.semitones * shape(share, self.manner.roundness)
        if hold.scoop_cents:
            plain -= 0.01 * hold.scoop_cents * (1.0 - shape((times - begin_s) / self.manner.habit.scoop_s, 0.5))
        midis = plain + self._vibrato(times, first, glides)
        return Struck(
            string,
            begin_s,
            end_s,
            times,
            midis,
            plain,
            tuple(glides),
            float(self.rng.uniform(0.6, 1.0)),
            swell,
            again_s,
        )

    def _glides(self, string: int, first: int, free_from_s: float, end_s: float) -> list[Glide]:
        glides: list[Glide] = []
        free_s = {"bar": free_from_s, "foot": free_from_s}
        ending = heard_end(self.manner.roundness)
        for before, after, step in zip(
            self.holds[first - 1 :], self.holds[first:], self.figure.steps[first:], strict=False
        ):
            if step.pick and self._time(float(step.beat)) > end_s - 0.03 and not self._kept(step):
                break
            for what, end, over, amount in (
                ("bar", after.bar_end_s, after.bar_s, self._fret(after, string) - self._fret(before, string)),
                ("foot", after.foot_end_s, after.foot_s, self._shift(after, string) - self._shift(before, string)),
            ):
                if abs(amount) < 1e-9:
                    continue
                start = max(end - ending * over, free_s[what])
                stop = start + (end - start) / ending
                if stop - start < 0.03:
                    start, stop = end - 0.03 * ending, end + 0.03 * (1.0 - ending)
                free_s[what] = stop + 0.01
                if start < end_s:
                    glides.append(Glide(start, stop, step.number, amount))
        return glides

    def _vibrato(self, times: Curve, first: int, glides: Sequence[Glide]) -> Curve:
        """Bar vibrato that grows within a third of a second once a held pitch is reached."""
        manner = self.manner
        depth = np.zeros(len(times))
        changes = [(times[0], first), *((glide.end_s, glide.step) for glide in glides)]
        for (since_s, number), after in zip(changes, [*glides, None], strict=True):
            step = self.figure.steps[number - 1]
            asked = any(s.vibrato for s in self.figure.steps[first - 1 : number])
            is_open = all(fret == 0.0 for _, fret in step.stance.bar.frets)
            if is_open or not (asked or manner.loose_vibrato):
                continue
            until_s = after.start_s if after else times[-1] + 1.0
            rise = np.clip((times - since_s - 0.2) / 0.3, 0.0, 1.0)
            fall = np.clip((until_s - times) / 0.1, 0.0, 1.0)
            depth = np.maximum(depth, np.where((times >= since_s) & (times <= until_s), np.minimum(rise, fall), 0.0))
        phase = 2.0 * np.pi * manner.vibrato_hz * (times - self.start_s)
        return np.asarray(manner.vibrato_cents / 100.0 * depth * np.sin(phase))

    def _end(self, note: Note, begin_s: float) -> float:
        """When a string falls silent."""
        jitter = float(self.rng.uniform(-0.02, 0.03))
        if note.ending == "end":
            end_s = min(self._time(note.end_beat) + float(self.rng.uniform(-0.08, 0.15)), self.until_s)
        else:
            step = self._ending_step(note)
            hold = self.holds[step.number - 1]
            if step.pick:
                end_s = hold.pick_s + jitter
                if note.string in step.pick:
                    end_s = min(end_s + 0.02, hold.strings_s[note.string] - float(self.rng.uniform(0.012, 0.025)))
                if step.moves_bar and not self._kept(step):
                    written_s = (note.end_beat - note.checkpoints[-1].beat) * self.manner.beat_s
                    end_s -= min(float(self.rng.uniform(0.05, 0.09)), 0.2 * written_s)
            else:
                end_s = self._time(float(step.beat)) + jitter
        for slip in self.slips:
            last = note.checkpoints[-1]
            if note.string not in slip.strings or slip.step != last.step:
                continue
            if slip.kind == "damped":
                end_s = self._time(last.beat) + slip.amount * (note.end_beat - last.beat) * self.manner.beat_s
            if slip.kind == "undamped":
                end_s = self._time(note.end_beat) + slip.amount
        return max(end_s, begin_s + 0.04)

    def _ending_step(self, note: Note) -> Step:
        """The step that silences a note."""
        for step in self.figure.steps[note.checkpoints[0].step :]:
            beats = {
                float(step.beat),
                float(step.pick_beat(note.string)) if note.string in step.pick else float(step.beat),
            }
            if note.end_beat in beats:
                return step
        raise AssertionError("a note that is silenced has a step that does it")
