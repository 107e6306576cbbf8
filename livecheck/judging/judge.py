"""The verdict on one attempt: what was heard against what was asked, checkpoint by checkpoint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.heard import GRID_S, HeardNote
from livecheck.hearing.score import TimedScore
from livecheck.judging.cause import causes_of
from livecheck.judging.glide import glide_of
from livecheck.judging.match import SETTLE_S, Match, Matched, match
from livecheck.judging.timing import ARRIVAL_WEIGHT, Event
from livecheck.judging.verdict import CheckpointVerdict, ExtraVerdict, Fault
from livecheck.judging.vibrato import vibrato_of
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import Checkpoint, Note
from livecheck.lesson.tolerances import Tolerances

LEAST_SETTLED_S = 0.08
HALF_BEAT = 0.5
TAIL_SHARE = 0.5
EARLY_MOVE_S = 0.02
DEPARTURE_SEMITONES = 0.3
"""A string that leaves its pitch so far, and does not come back, has moved on."""
WRONG_WEIGHT = 0.5
"""A wrong note still tells the time, but it may be another mistake."""
ENDED_S = 0.05
"""A string that falls silent so shortly before it should is not cut short."""


@dataclass(frozen=True)
class Judgement:
    checkpoints: tuple[CheckpointVerdict, ...]
    extras: tuple[ExtraVerdict, ...]

    @property
    def heard(self) -> int:
        """Picks that were heard at all."""
        return sum(c.kind == "pick" and c.heard_s is not None for c in self.checkpoints)

    @property
    def right(self) -> int:
        """Checkpoints that were heard at the pitch asked for."""
        return sum(c.heard_s is not None and "wrong-note" not in c.faults for c in self.checkpoints)

    def events(self) -> list[Event]:
        """What tells the tempo: one event a step, since the strings of a step are late together; if not, the one in
        time."""
        heard = [c for c in self.checkpoints if c.timing_ms is not None]
        events = []
        for step, kind in sorted({(c.step, c.kind) for c in heard}):
            here = [c for c in heard if (c.step, c.kind) == (step, kind)]
            right = [c for c in here if "wrong-note" not in c.faults]
            weight = (1.0 if kind == "pick" else ARRIVAL_WEIGHT) * (1.0 if right else WRONG_WEIGHT)
            first = min(here, key=lambda c: c.beat)
            off_s = min((c.timing_ms for c in right or here if c.timing_ms is not None), key=abs) / 1000.0
            events.append(Event(first.beat, first.expected_s + off_s, weight))
        return events

    def cents_off(self) -> list[float]:
        """How far each checkpoint's settled pitch was from the lesson's, the tuning left in."""
        return [
            100.0 * (c.heard_midi - c.expected_midi)
            for c in self.checkpoints
            if c.heard_midi is not None and c.judged and not {"wrong-note", "missed-move"} & set(c.faults)
        ]


class Judge:
    """Judges attempts by one copedent and one set of tolerances. `blur_s`: how far the source smears a pitch curve."""

    def __init__(self, copedent: Copedent, tolerances: Tolerances, blur_s: float) -> None:
        self._copedent = copedent
        self._tolerances = tolerances
        self._blur_s = blur_s

    def judge(self, score: TimedScore, heard: Sequence[HeardNote], wet: bool = False) -> Judgement:
        """The verdicts on one attempt. `wet`: an echo or reverb keeps strings sounding, so none is accused of
        ringing on."""
        matched = match(score, heard, self._tolerances.wrong_note_cents)
        attempt = _Attempt(score, matched, self._tolerances, self._blur_s, wet)
        checkpoints = attempt.checkpoints()
        return Judgement(self._with_causes(score, checkpoints), attempt.extras())

    def _with_causes(
        self, score: TimedScore, checkpoints: Sequence[CheckpointVerdict]
    ) -> tuple[CheckpointVerdict, ...]:
        figure = score.expectation.figure
        off = {"flat", "sharp", "wrong-note", "missed-move"}
        caused: dict[tuple[int, int], str] = {}
        last_cents: dict[int, float] = {}
        for step in figure.steps:
            here = [c for c in checkpoints if c.step == step.number and c.judged]
            astray = {c.string for c in here if off & set(c.faults)}
            if astray:
                tuned = {
                    c.string: None if c.heard_midi is None else c.heard_midi - score.tuning_cents / 100.0 for c in here
                }
                ringing = {
                    c.string: last_cents[c.string] for c in here if c.kind == "arrive" and c.string in last_cents
                }
                for string, words in causes_of(figure, step.number, tuned, astray, self._copedent, ringing).items():
                    caused[step.number, string] = words
            last_cents.update({c.string: c.cents for c in here if c.cents is not None})
        return tuple(replace(c, cause=caused.get((c.step, c.string), c.cause)) for c in checkpoints)


class _Chain:
    """A string's notes from an asked pick to the next: one curve, though it may have been struck again."""

    def __init__(self, notes: tuple[HeardNote, ...]) -> None:
        self.notes = notes
        self.start_s = notes[0].start_s
        self.end_s = notes[-1].end_s
        parts = [note.curve(note.start_s, note.end_s) for note in notes]
        self.times_s = np.concatenate([times for times, _ in parts])
        self.midis = np.concatenate([midis for _, midis in parts])

    def curve(self, start_s: float, stop_s: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        low, high = np.searchsorted(self.times_s, (start_s, stop_s + 1e-9))
        return self.times_s[low:high], self.midis[low:high]

    def median_midi(self, start_s: float, stop_s: float) -> float | None:
        _, midis = self.curve(start_s, stop_s)
        return float(np.median(midis)) if len(midis) else None

    def steady(self, knots: Sequence[tuple[float, float]]) -> None:
        """Take the vibrato off, given the levels and glides that were found so far as (seconds, midi)."""
        times, midis = zip(*knots, strict=True)
        rest = 100.0 * (self.midis - np.interp(self.times_s, times, midis))
        self.midis = self.midis - vibrato_of(rest, GRID_S) / 100.0


class _Attempt:
    def __init__(self, score: TimedScore, matched: Matched, tolerances: Tolerances, blur_s: float, wet: bool) -> None:
        self.score = score
        self.matched = matched
        self.tolerances = tolerances
        self.blur_s = blur_s
        self.wet = wet
        self.step_beats = sorted({float(step.beat) for step in score.expectation.figure.steps})

    def checkpoints(self) -> list[CheckpointVerdict]:
        found = [verdict for one in self.matched.matches for verdict in self._note(one)]
        return sorted(found, key=lambda c: (c.step, c.string))

    def extras(self) -> tuple[ExtraVerdict, ...]:
        found = [self._extra("extra-pick", again) for one in self.matched.matches for again in one.again]
        for stray in self.matched.strays:
            inside = self.score.start_s - self.score.beat_s <= stray.start_s
            if inside and stray.start_s <= self.score.time_s(1.0 + float(self.score.expectation.figure.length)):
                found.append(self._extra("extra-note", stray))
        return tuple(sorted(found, key=lambda extra: extra.at_s))

    def _extra(self, fault: str, note: HeardNote) -> ExtraVerdict:
        soon = note.median_midi(note.start_s + SETTLE_S, note.start_s + 4 * SETTLE_S)
        whole = note.median_midi(note.start_s, note.end_s)
        midi = next(m for m in (soon, whole, self._asked_midi(note)) if m is not None)
        beat = (note.start_s - self.score.start_s) / self.score.beat_s + 1.0
        step = max((s.number for s in self.score.expectation.figure.steps if float(s.beat) <= beat + 0.05), default=1)
        return ExtraVerdict(
            "extra-pick" if fault == "extra-pick" else "extra-note", note.start_s, note.string, midi, step
        )

    def _asked_midi(self, note: HeardNote) -> float:
        """The pitch that is asked for nearest to a note's start: what a stroke too short for a pitch is taken for."""
        row = [n for n in self.score.expectation.notes if n.string == note.string] or list(self.score.expectation.notes)
        nearest = min(row, key=lambda n: abs(self.score.time_s(n.start_beat) - note.start_s))
        return self.score.sounding(nearest.checkpoints[0])

    def _note(self, one: Match) -> list[CheckpointVerdict]:
        """The verdicts on one asked note: its pick, then its arrivals in order."""
        note = one.note
        pick, arrivals = note.checkpoints[0], note.checkpoints[1:]
        if not one.heard:
            return [self._verdict(pick, None, None, ("missed",)), *(self._unjudged(c) for c in arrivals)]
        chain = _Chain(one.heard)
        _, knots = self._glides(note, chain)
        chain.steady(knots)
        glides, _ = self._glides(note, chain)
        verdicts = []
        failed = False
        for index, checkpoint in enumerate(note.checkpoints):
            heard_s = chain.start_s if index == 0 else None
            glide = glides[index]
            if glide is not None:
                heard_s = glide[1]
            following = next((g for g in glides[index + 1 :] if g is not None), None)
            reached = (
                index == 0
                or chain.end_s > self.score.time_s(checkpoint.beat) - self._slack_s(checkpoint)
                or glide is not None
            )
            if failed or not reached:
                verdicts.append(self._unjudged(checkpoint))
                continue
            if index > 0 and glide is None:
                stayed = self._settled(note, index, self.score.time_s(checkpoint.beat), chain, following)
                held = self._held(note, index, self.score.time_s(checkpoint.beat), chain, True)
                verdicts.append(self._verdict(checkpoint, None, stayed, ("missed-move", *held)))
                failed = True
                continue
            assert heard_s is not None
            midi = self._settled(note, index, heard_s, chain, following)
            faults = [*self._in_time(checkpoint, heard_s), *self._in_tune(checkpoint, midi)]
            if index == 0 and one.instead and "wrong-note" not in faults:
                midi = chain.median_midi(chain.start_s, chain.end_s) if midi is None else midi
                faults = ["wrong-note"]
            if "wrong-note" in faults:
                faults = ["wrong-note"]
                failed = True
            faults += self._held(note, index, heard_s, chain, failed)
            verdicts.append(self._verdict(checkpoint, heard_s, midi, tuple(faults)))
        return verdicts

    def _slack_s(self, checkpoint: Checkpoint) -> float:
        window = self.score.window(checkpoint)
        return 0.5 * (window.expected_s - window.start_s)

    # moves

    def _glides(self, note: Note, chain: _Chain) -> tuple[list[tuple[float, float] | None], list[tuple[float, float]]]:
        """For each checkpoint of a note the start and end of its glide; None for the pick, and where there was none.

        Also the curve that these glides and the levels between them make, as knots of (seconds, midi).
        """
        glides: list[tuple[float, float] | None] = [None]
        level = self._first_level(note, chain)
        knots = [(chain.start_s, level)]
        for index in range(1, len(note.checkpoints)):
            checkpoint = note.checkpoints[index]
            window = self.score.window(checkpoint)
            tail_stop = min(window.stop_s, chain.end_s)
            if index + 1 < len(note.checkpoints):
                after = note.checkpoints[index + 1]
                tail_stop = min(tail_stop, self.score.time_s(after.beat - after.over) - EARLY_MOVE_S)
            tail_stop = max(tail_stop, min(window.expected_s + SETTLE_S, chain.end_s))
            tail_start = max(window.expected_s, tail_stop - max(0.12, TAIL_SHARE * (tail_stop - window.expected_s)))
            assert checkpoint.from_midi is not None
            offset = level - checkpoint.from_midi
            times, midis = chain.curve(min(tail_start, tail_stop - 0.03), tail_stop)
            glide = None
            if len(midis):
                settled = float(np.median(midis))
                nearer_new = abs(settled - checkpoint.midi - offset) < abs(settled - checkpoint.from_midi - offset)
                earliest = min(window.start_s, self.score.time_s(checkpoint.beat - checkpoint.over) - EARLY_MOVE_S)
                begin = max(earliest, chain.start_s, glides[index - 1][1] if glides[index - 1] else 0.0)  # type: ignore[index]
                times, midis = chain.curve(begin, tail_stop)
                if nearer_new and len(midis) > 2 and abs(settled - level) > 0.05:
                    glide = glide_of(times, midis, level, settled, self.blur_s)
                    if glide is None:
                        glide = (begin, begin)
                    knots += [(glide[0], level), (glide[1], settled)]
                    level = settled
            glides.append(glide)
        return glides, knots

    def _first_level(self, note: Note, chain: _Chain) -> float:
        """The pitch right after the pick, before anything moves."""
        asked = self.score.sounding(note.checkpoints[0])
        start_s = chain.start_s
        regions = ((start_s + SETTLE_S, start_s + 3 * SETTLE_S), (start_s, start_s + SETTLE_S))
        levels = [self._settled(note, 0, start_s, chain, None), *(chain.median_midi(*region) for region in regions)]
        return min(
            (level for level in levels if level is not None), key=lambda level: abs(level - asked), default=asked
        )

    def _settled(
        self, note: Note, index: int, heard_s: float, chain: _Chain, following: tuple[float, float] | None
    ) -> float | None:
        """The middle pitch from a little after a checkpoint until the string moves again or ends; None if that is
        too short."""
        stop_s = min(chain.end_s, self.score.time_s(note.end_beat) if following is None else following[0])
        if index + 1 < len(note.checkpoints) and following is None:
            after = note.checkpoints[index + 1]
            stop_s = min(stop_s, self.score.time_s(after.beat - after.over) - EARLY_MOVE_S)
        beat = note.checkpoints[index].beat
        arrivals = [checkpoint.beat for checkpoint in note.checkpoints[1:]]
        small = [
            begin
            for (begin, before), (end, after) in pairwise(note.knots)
            if begin > beat + 1e-6
            and before != after
            and not any(begin < arrival <= end + 1e-6 for arrival in arrivals)
        ]
        if small:
            stop_s = min(stop_s, self.score.time_s(small[0]))
        start_s = heard_s + SETTLE_S
        if stop_s - start_s < LEAST_SETTLED_S:
            return None
        _, midis = chain.curve(start_s, stop_s)
        if not len(midis):
            return None
        first = float(np.median(midis[: max(round(LEAST_SETTLED_S / GRID_S), len(midis) // 3)]))
        stays = np.flatnonzero(np.abs(midis - first) < DEPARTURE_SEMITONES)
        return float(np.median(midis[: stays[-1] + 1])) if len(stays) else first

    # faults

    def _in_time(self, checkpoint: Checkpoint, heard_s: float) -> list[Fault]:
        if checkpoint.swell:
            return []
        beat = float(self.score.expectation.figure.steps[checkpoint.step - 1].beat)
        gaps = [abs(other - beat) * self.score.beat_s for other in self.step_beats if other != beat]
        widest_ms = self.tolerances.pick_ms if checkpoint.kind == "pick" else self.tolerances.arrival_ms
        limit_s = min([widest_ms / 1000.0, *(gap * self.tolerances.gap_share for gap in gaps)])
        off_s = heard_s - self.score.time_s(checkpoint.beat)
        return ["late"] if off_s > limit_s else ["early"] if off_s < -limit_s else []

    def _in_tune(self, checkpoint: Checkpoint, midi: float | None) -> list[Fault]:
        if midi is None:
            return []
        cents = 100.0 * (midi - self.score.sounding(checkpoint))
        if abs(cents) >= self.tolerances.wrong_note_cents:
            return ["wrong-note"]
        if abs(cents) > self.tolerances.cents:
            return ["sharp" if cents > 0 else "flat"]
        return []

    def _held(self, note: Note, index: int, heard_s: float, chain: _Chain, failed: bool) -> list[Fault]:
        """Whether the string was silenced too soon, or not silenced when it should have been."""
        last = index + 1 == len(note.checkpoints)
        until_beat = note.end_beat if last else note.checkpoints[index + 1].beat
        until_s = self.score.time_s(until_beat)
        due_s = self.score.time_s(note.checkpoints[index].beat)
        ended_s = self._silenced_s(note) if last else None
        lost = not last and chain.end_s < until_s - self._slack_s(note.checkpoints[index + 1])
        short = last and chain.end_s < min(heard_s, due_s) + self.tolerances.short_share * (until_s - due_s)
        if (lost or short) and chain.end_s < (until_s if ended_s is None else min(until_s, ended_s)) - ENDED_S:
            return [] if failed else ["cut-short"]
        if (
            not self.wet
            and (last or failed)
            and note.ending != "end"
            and not self._struck_at(note.string, note.end_beat)
        ):
            limit_s = max(self.tolerances.rang_on_ms / 1000.0, HALF_BEAT * self.score.beat_s)
            ended_s = self._silenced_s(note)
            if ended_s is not None and chain.end_s - max(ended_s, until_s) >= limit_s:
                return ["rang-on"]
        return []

    def _silenced_s(self, note: Note) -> float | None:
        """When a note was ended: at the block, or at the pick that blocks it, if that pick came at all."""
        written_s = self.score.time_s(note.end_beat)
        if note.ending != "pick":
            return written_s
        starts = [m.heard[0].start_s for m in self.matched.matches if m.heard and self._ends_at(m.note, note.end_beat)]
        return min(starts) if starts else None

    def _struck_at(self, string: int, beat: float) -> bool:
        """Whether the step at a beat picks a string: a string that is struck again cannot ring on."""
        return any(float(step.beat) == beat and string in step.pick for step in self.score.expectation.figure.steps)

    def _ends_at(self, other: Note, beat: float) -> bool:
        step = self.score.expectation.figure.steps[other.checkpoints[0].step - 1]
        return float(step.beat) == beat or other.start_beat == beat

    # verdicts

    def _verdict(
        self, checkpoint: Checkpoint, heard_s: float | None, midi: float | None, faults: tuple[Fault, ...]
    ) -> CheckpointVerdict:
        expected_s = self.score.time_s(checkpoint.beat)
        return CheckpointVerdict(
            step=checkpoint.step,
            string=checkpoint.string,
            kind=checkpoint.kind,
            move=checkpoint.move,
            beat=checkpoint.beat,
            judged=True,
            expected_s=expected_s,
            heard_s=heard_s,
            timing_ms=None if heard_s is None else 1000.0 * (heard_s - expected_s),
            expected_midi=checkpoint.midi,
            heard_midi=midi,
            cents=None if midi is None else 100.0 * (midi - self.score.sounding(checkpoint)),
            faults=faults,
        )

    def _unjudged(self, checkpoint: Checkpoint) -> CheckpointVerdict:
        return replace(self._verdict(checkpoint, None, None, ()), judged=False)
