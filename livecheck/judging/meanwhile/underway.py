"""One attempt at a figure while its strings are struck and bent, and what of it is certain already.

For a source that tells strings and pitches exactly and at once (MIDI, one channel a string). In: `Struck`, in order of
time, and the time that it is now. Out: `Remark`, as soon as there is something to say.

A pick's pitch is certain once the string is still; that a string was missed, or did not move, once a later step has
come in its place, or when it is no longer searched. Where strings lie in time is told by the picks so far. The verdict
on the figure, and on the take, is made by others and owes nothing to this.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from livecheck.hearing.score import TimedScore
from livecheck.judging.brief import Brief
from livecheck.judging.meanwhile.remark import Remark
from livecheck.judging.meanwhile.rest import middle, rests
from livecheck.judging.timing import Event, Line, line_at
from livecheck.judging.verdict import CheckpointVerdict, ExtraVerdict, Fault, FigureVerdict
from livecheck.judging.verdicts.cause import causes_of
from livecheck.judging.verdicts.ruling import in_tune, limit_s, step_at, verdict_on
from livecheck.lesson.expectation import Checkpoint, Expectation, Note

STILL_S = 0.006
"""A string whose pitch has not moved so long after its pick has it."""
SETTLED_S = 0.06
"""A string that was moving is there when it has been still for so long."""
AT_ONCE_S = 0.003
"""What comes so soon after a pick belongs to it: an instrument that sends the note before its bend."""
RESTLESS_S = 0.6
"""A string that has not been still for so long after its pick, as in vibrato, has the middle of what it did."""
MOVED, ALMOST = 0.5, 0.8
"""A string that has gone so large a share of its way has moved; has almost come."""
ASTRAY_SEMITONES = 0.6
SHOWN_BEATS = 3
TEMPO_RANGE = 1.35
TOUCH_S = 0.03
NEXT_BEATS = 0.5
OFF_BEATS = 1.0
"""So far from where it is thought to be a string that sounds right is taken for the one that is asked for."""
PATIENCE = 3
"""So many picks in a row that are not in the figure: the player is somewhere else."""


class Struck(Protocol):
    """A string that was struck, as far as it has sounded."""

    string: int | None
    end_s: float | None

    @property
    def first(self) -> tuple[float, float]:
        """When it was struck, and the pitch then."""

    def since(self, time_s: float) -> list[tuple[float, float]]:
        """The change of its pitch that is in force at a time, and all after it."""


@dataclass
class _Asked:
    """One note of the figure and what has come for it."""

    note: Note
    struck: Struck | None = None
    certain: int = 0
    """So many of its checkpoints have been seen to."""
    given_up: bool = False
    """It was missed, wrong, or did not move: nothing more is said of it."""

    @property
    def pick(self) -> Checkpoint:
        return self.note.checkpoints[0]

    @property
    def next(self) -> Checkpoint | None:
        if self.given_up or self.struck is None or self.certain >= len(self.note.checkpoints):
            return None
        return self.note.checkpoints[self.certain]


@dataclass(frozen=True)
class Surroundings:
    """What is known before the attempt."""

    beat_s: float
    grid: bool
    """Whether beats are the lesson's to the moment, as with a click."""
    tuning_cents: float
    is_tuned: bool
    """Whether enough was heard to say what is flat."""
    least_beats: int
    """So many different beats tell another tempo."""


@dataclass
class Underway:
    """`figure`: its place in the brief; `attempt` counts from 1."""

    brief: Brief
    figure: int
    attempt: int
    expectation: Expectation
    around: Surroundings
    line: Line
    asked: list[_Asked] = field(init=False)
    events: list[Event] = field(default_factory=list)
    offs_cents: list[float] = field(default_factory=list)
    """Of the picks that were right, how far they were off the lesson's pitch."""
    strays: int = 0
    """Picks in a row that are not in the figure."""
    _is_left: bool = False
    _heard: dict[tuple[int, int], float] = field(default_factory=dict)
    """Step and string -> the pitch that was there, the tuning taken off."""
    _causes: set[tuple[int, str]] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.asked = [_Asked(note) for note in self.expectation.notes]
        self._score = TimedScore(self.expectation, self.line.start_s, self.line.beat_s, self.around.tuning_cents)

    @property
    def is_lost(self) -> bool:
        return self.strays >= PATIENCE

    def is_over(self, now_s: float) -> bool:
        """Whether nothing of it is searched any more."""
        return now_s > max(window.stop_s for window in self._score.windows.values())

    def is_near_end(self, now_s: float) -> bool:
        """Whether what is struck may belong to what comes after."""
        return self.all_picked and now_s > self.line.time_s(1.0 + float(self.expectation.figure.length) - NEXT_BEATS)

    @property
    def beat_s(self) -> float | None:
        """Its own tempo, if it has shown one."""
        return self.line.beat_s if len({event.beat for event in self.events}) >= SHOWN_BEATS else None

    @property
    def all_picked(self) -> bool:
        return all(one.struck is not None or one.given_up for one in self.asked)

    def takes(self, struck: Struck) -> bool:
        """Lay a string that was just struck on what is asked; whether it has a place."""
        start_s, midi = struck.first
        places = [one for one in self.asked if self._may_be(one, struck.string, start_s, midi)]
        if not places:
            return False
        best = min(places, key=lambda one: abs(self._score.window(one.pick).expected_s - start_s))
        best.struck, best.certain, best.given_up = struck, 0, False
        self.strays = 0
        if not self._is_wrong(best.pick, midi):
            self.events.append(Event(best.pick.beat, start_s))
            self._lay_anew()
        return True

    def extra(self, struck: Struck) -> Remark:
        """That a string was struck which has no place."""
        start_s, midi = struck.first
        self.strays += 1
        rings = self.is_again(struck)
        step = step_at(self._score, start_s)
        fault = ExtraVerdict("extra-pick" if rings else "extra-note", start_s, struck.string, midi, step)
        return Remark(self._verdict((), (fault,)), start_s)

    def certain(self, now_s: float, is_left: bool = False) -> list[Remark]:
        """What has become certain since this was asked last. `is_left`: the player has begun something else."""
        self._is_left = is_left
        found: list[Remark] = []
        for one in self.asked:
            if one.struck is None and not one.given_up:
                since_s = self._passed_s(one.pick, now_s)
                if since_s is not None and self._is_met(one):
                    one.given_up = True
                elif since_s is not None:
                    one.given_up = True
                    found += self._remark(one.pick, None, None, ["missed"], since_s)
            elif (checkpoint := one.next) is not None:
                found += self._pick(one, now_s) if one.certain == 0 else self._arrival(one, checkpoint, now_s)
        return found

    def _pick(self, one: _Asked, now_s: float) -> list[Remark]:
        assert one.struck is not None
        start_s, _ = one.struck.first
        until_s = now_s if one.struck.end_s is None else one.struck.end_s
        changes = one.struck.since(start_s)
        still = next(
            (
                change
                for change, lasts_s in rests(changes, until_s)
                if lasts_s >= (STILL_S if change[0] - start_s <= AT_ONCE_S else SETTLED_S)
            ),
            None,
        )
        if still is None and one.struck.end_s is None and now_s - start_s < RESTLESS_S:
            return []
        came_s, midi = still or (until_s, middle(changes, until_s))
        one.certain = 1
        faults = self._in_tune(one.pick, midi, is_still=still is not None)
        if "wrong-note" in faults:
            one.given_up = True
        else:
            self.offs_cents.append(100.0 * (midi - one.pick.midi))
            faults += self._in_time(one.pick, start_s, start_s)
        self._heard[one.pick.step, one.pick.string] = midi - self.around.tuning_cents / 100.0
        since_s = start_s if came_s - start_s <= AT_ONCE_S else came_s + SETTLED_S
        return self._remark(one.pick, start_s, midi, faults, since_s)

    def _arrival(self, one: _Asked, checkpoint: Checkpoint, now_s: float) -> list[Remark]:
        assert one.struck is not None
        assert checkpoint.from_midi is not None
        window = self._score.window(checkpoint)
        if one.struck.end_s is not None and one.struck.end_s < window.expected_s:
            one.given_up = True
            return []
        target = self._score.sounding(checkpoint)
        origin = checkpoint.from_midi + self.around.tuning_cents / 100.0

        def share(midi: float) -> float:
            return (midi - origin) / (target - origin)

        def moved(midi: float) -> bool:
            return share(midi) > MOVED or abs(midi - origin) > ASTRAY_SEMITONES

        until_s = now_s if one.struck.end_s is None else one.struck.end_s
        changes = one.struck.since(window.start_s)
        there = next(
            (
                change
                for change, lasts_s in rests(changes, until_s)
                if lasts_s >= SETTLED_S and change[0] > window.start_s and moved(change[1])
            ),
            None,
        )
        if there is not None and there[0] < self._leaves_s(one):
            came_s, midi = there
            one.certain += 1
            faults = self._in_tune(checkpoint, midi)
            one.given_up = "wrong-note" in faults
            self._heard[checkpoint.step, checkpoint.string] = midi - self.around.tuning_cents / 100.0
            if not one.given_up:
                almost_s = next((time_s for time_s, now in changes if share(now) >= ALMOST), came_s)
                faults += self._in_time(checkpoint, came_s, almost_s)
            return self._remark(checkpoint, came_s, midi, faults, came_s + SETTLED_S)
        since_s = self._passed_s(checkpoint, now_s)
        if since_s is None:
            return []
        if there is not None or any(moved(midi) for _, midi in changes):
            one.certain += 1  # it went somewhere, but where it stood then cannot be told
            return []
        one.given_up = True
        midi = middle(changes, until_s)
        self._heard[checkpoint.step, checkpoint.string] = midi - self.around.tuning_cents / 100.0
        return self._remark(checkpoint, None, midi, ["missed-move"], since_s)

    def _leaves_s(self, one: _Asked) -> float:
        """When a string is about to go on to what comes after its next checkpoint."""
        later = one.note.checkpoints[one.certain + 1 :]
        return self._score.window(later[0]).start_s if later else math.inf

    def _passed_s(self, checkpoint: Checkpoint, now_s: float) -> float | None:
        """Since when the player has been beyond a checkpoint; None while it may still come.

        That is when a later step was picked as asked, or, where others of the same step came, when it is no longer
        searched.
        """
        due_s = self._score.window(checkpoint).expected_s
        if now_s <= due_s:
            return None
        latest_s = due_s + self._limit_s(checkpoint)
        later = [
            one.struck.first[0]
            for one in self._begun(now_s)
            if one.struck is not None
            and one.pick.step > checkpoint.step
            and one.certain > 0
            and not (one.given_up and one.certain == 1)
            and one.struck.first[0] > latest_s
        ]
        if later:
            return min(later)
        if self._is_left and now_s > latest_s and checkpoint.kind == "arrive":
            return now_s
        stop_s = self._score.window(checkpoint).stop_s
        beside = checkpoint.kind == "arrive" or any(
            one.struck is not None and one.pick.step == checkpoint.step for one in self.asked if one.certain > 0
        )
        return stop_s if beside and now_s > stop_s else None

    def _is_met(self, one: _Asked) -> bool:
        """Whether another string sounded a missing one's very pitch: unisons count as one."""
        target, window = self._score.sounding(one.pick), self._score.window(one.pick)
        return any(
            other.struck is not None
            and other.pick.step == one.pick.step
            and window.holds(other.struck.first[0])
            and abs(other.struck.first[1] - target) * 100.0 < self.brief.tolerances.wrong_note_cents
            for other in self.asked
        )

    def _may_be(self, one: _Asked, string: int | None, start_s: float, midi: float) -> bool:
        window, is_wrong = self._score.window(one.pick), self._is_wrong(one.pick, midi)
        if one.pick.string != string:
            return False
        if one.struck is not None:
            return window.holds(start_s) and self._is_wrong(one.pick, one.struck.first[1]) and not is_wrong
        if one.given_up or is_wrong:
            return not one.given_up and window.holds(start_s)
        return abs(start_s - window.expected_s) < OFF_BEATS * self.line.beat_s

    def _is_wrong(self, checkpoint: Checkpoint, midi: float) -> bool:
        off_cents = 100.0 * abs(midi - self._score.sounding(checkpoint))
        return off_cents >= self.brief.tolerances.wrong_note_cents

    def is_again(self, struck: Struck) -> bool:
        """Whether a string is struck once more that rings, or rang until just now."""
        start_s = struck.first[0]
        return any(
            one.struck is not None
            and one.struck.string == struck.string
            and (one.struck.end_s is None or one.struck.end_s > start_s - TOUCH_S)
            for one in self.asked
        )

    def _begun(self, now_s: float) -> list[_Asked]:
        return [one for one in self.asked if one.struck is not None and one.struck.first[0] <= now_s]

    def _lay_anew(self) -> None:
        """Where the figure lies, by the picks so far."""
        if not self.around.grid:
            beat_s = self.line.beat_s
            if len({event.beat for event in self.events}) >= self.around.least_beats:
                first, last = (pick(self.events, key=lambda event: event.beat) for pick in (min, max))
                beat_s = (last.time_s - first.time_s) / (last.beat - first.beat)
                near_s = self.around.beat_s
                beat_s = min(max(beat_s, near_s / TEMPO_RANGE), near_s * TEMPO_RANGE)
            self.line = line_at(self.events, beat_s)
        self._score = TimedScore(self.expectation, self.line.start_s, self.line.beat_s, self.around.tuning_cents)

    def _in_tune(self, checkpoint: Checkpoint, midi: float, *, is_still: bool = True) -> list[Fault]:
        faults = in_tune(self._score, checkpoint, midi, self.brief.tolerances)
        return faults if (self.around.is_tuned and is_still) or faults == ["wrong-note"] else []

    def _in_time(self, checkpoint: Checkpoint, heard_s: float, not_before_s: float) -> list[Fault]:
        """Only a click says while it is played what is late: what had not come by `not_before_s` at least."""
        if not self.around.grid or checkpoint.swell:
            return []
        due_s, limit_s = self._score.time_s(checkpoint.beat), self._limit_s(checkpoint)
        if not_before_s - due_s > limit_s:
            return ["late"]
        return ["early"] if due_s - heard_s > limit_s else []

    def _limit_s(self, checkpoint: Checkpoint) -> float:
        return limit_s(self._score, checkpoint.step, checkpoint.kind, self.brief.tolerances)

    def _remark(
        self, checkpoint: Checkpoint, heard_s: float | None, midi: float | None, faults: Sequence[Fault], since_s: float
    ) -> list[Remark]:
        if not faults:
            return []
        cause = self._cause(checkpoint) if midi is not None else None
        if cause is not None and (checkpoint.step, cause) in self._causes:
            return []
        if cause is not None:
            self._causes.add((checkpoint.step, cause))
        verdict = verdict_on(self._score, checkpoint, heard_s, midi, faults, cause)
        return [Remark(self._verdict((verdict,), ()), since_s)]

    def _cause(self, checkpoint: Checkpoint) -> str | None:
        here = {string: midi for (step, string), midi in self._heard.items() if step == checkpoint.step}
        figure, copedent = self.expectation.figure, self.brief.lesson.copedent
        return causes_of(figure, checkpoint.step, here, {checkpoint.string}, copedent).get(checkpoint.string)

    def _verdict(self, checkpoints: tuple[CheckpointVerdict, ...], extras: tuple[ExtraVerdict, ...]) -> FigureVerdict:
        tempo = 60.0 / self.line.beat_s
        figure = self.expectation.figure
        return FigureVerdict(figure, self.attempt, True, self.line.start_s, tempo, checkpoints, extras)
