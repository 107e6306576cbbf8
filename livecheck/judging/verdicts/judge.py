"""The verdict on one attempt: what was heard against what was asked, checkpoint by checkpoint."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from livecheck.hearing.heard import SETTLE_S, HeardNote
from livecheck.hearing.score import TimedScore
from livecheck.judging.timing import ARRIVAL_WEIGHT, Event
from livecheck.judging.verdict import CheckpointVerdict, ExtraVerdict, Fault
from livecheck.judging.verdicts.arrivals import LEAST_SETTLED_S, Arrivals, Glide
from livecheck.judging.verdicts.cause import causes_of
from livecheck.judging.verdicts.chain import Chain
from livecheck.judging.verdicts.confidence import Confidence
from livecheck.judging.verdicts.match import Match, Matched, match
from livecheck.judging.verdicts.ruling import in_tune, limit_s, step_at, verdict_on
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import Checkpoint, Kind, Note
from livecheck.lesson.figure import Figure
from livecheck.lesson.tolerances import Tolerances

HALF_BEAT = 0.5
HELD_FAULTS: tuple[Fault, ...] = ("cut-short", "rang-on")
WRONG_WEIGHT = 0.5
"""A wrong note still tells the time, but it may be another mistake."""
SWELL_WEIGHT = 0.4
"""Nobody can say when a string that was faded in began; two of them tell more than the end of one glide."""
AFTER_S, LEAST_CLEAR = 0.15, 0.1
"""The end of a glide after which less was heard for so long tells less, down to such a share: the string had died
away."""
ENDED_S = 0.05
"""A string that falls silent so shortly before it should is not cut short."""


@dataclass(frozen=True)
class Judgement:
    figure: Figure
    checkpoints: tuple[CheckpointVerdict, ...]
    extras: tuple[ExtraVerdict, ...]
    clear: Mapping[tuple[int, int], float]
    """(step, string) of a move that came -> how clearly its end was heard, 0 to 1."""

    @property
    def heard(self) -> int:
        """Picks that were heard at all."""
        return sum(c.kind == "pick" and c.heard_s is not None for c in self.checkpoints)

    @property
    def right(self) -> int:
        """Checkpoints that were heard at the pitch asked for."""
        return sum(c.right for c in self.checkpoints)

    @property
    def mistakes(self) -> int:
        """How many mistakes explain it: the strings of a step make one together. How long they were held is told by
        where the figure is thought to lie, and tells nothing of that."""
        told = {(c.step, fault) for c in self.checkpoints for fault in c.faults if fault not in HELD_FAULTS}
        return len(told) + len({extra.at_s for extra in self.extras})

    def events(self) -> list[Event]:
        """What tells the tempo: one event a step, since the strings of a step are late together; if not, the one in
        time."""
        heard = [c for c in self.checkpoints if c.timing_ms is not None]
        events = []
        for step, kind in sorted({(c.step, c.kind) for c in heard}):
            here = [c for c in heard if (c.step, c.kind) == (step, kind)]
            right = [c for c in here if "wrong-note" not in c.faults]
            swell = kind == "pick" and self.figure.steps[step - 1].swell
            weight = SWELL_WEIGHT if swell else 1.0 if kind == "pick" else ARRIVAL_WEIGHT
            weight *= 1.0 if right else WRONG_WEIGHT
            if kind == "arrive":
                weight *= max(LEAST_CLEAR, *(self.clear[c.step, c.string] for c in here))
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
        attempt = self._attempt(score, heard, wet)
        checkpoints = self._with_causes(score, attempt.checkpoints())
        if self._blur_s:
            confidence = Confidence(score, attempt.matched.matches, attempt.limit_s, self._tolerances)
            checkpoints = _as_sure_as_its_cause(confidence.of(checkpoints))
        clear = attempt.clear(checkpoints)
        return Judgement(score.expectation.figure, tuple(checkpoints), attempt.extras(), clear)

    def judge_briefly(self, score: TimedScore, heard: Sequence[HeardNote]) -> Judgement:
        """The verdicts by which an attempt is laid on its line: without causes, confidence and extras, which would not
        be read."""
        attempt = self._attempt(score, heard, wet=False)
        checkpoints = attempt.checkpoints()
        return Judgement(score.expectation.figure, tuple(checkpoints), (), attempt.clear(checkpoints))

    def _attempt(self, score: TimedScore, heard: Sequence[HeardNote], wet: bool) -> _Attempt:
        matched = match(score, heard, self._tolerances.wrong_note_cents)
        return _Attempt(score, matched, self._tolerances, self._blur_s, wet)

    def _with_causes(self, score: TimedScore, checkpoints: Sequence[CheckpointVerdict]) -> list[CheckpointVerdict]:
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
        return [replace(c, cause=caused[c.step, c.string]) if (c.step, c.string) in caused else c for c in checkpoints]


def _as_sure_as_its_cause(checkpoints: Sequence[CheckpointVerdict]) -> list[CheckpointVerdict]:
    """What hands and feet did to one string they did to the others of that step: where one cause explains several, each
    is as sure as the surest, be it hidden behind it."""
    surest: dict[tuple[int, str], float] = {}
    for one in checkpoints:
        if one.cause is not None:
            key = one.step, one.cause
            surest[key] = max(surest.get(key, 0.0), one.confidence)
    return [one if one.cause is None else replace(one, confidence=surest[one.step, one.cause]) for one in checkpoints]


class _Attempt:
    def __init__(self, score: TimedScore, matched: Matched, tolerances: Tolerances, blur_s: float, wet: bool) -> None:
        self.score = score
        self.matched = matched
        self.tolerances = tolerances
        self.blur_s = blur_s
        self.wet = wet

    def checkpoints(self) -> list[CheckpointVerdict]:
        found = [verdict for one in self.matched.matches for verdict in self._note(one)]
        return sorted(found, key=lambda c: (c.step, c.string))

    def clear(self, checkpoints: Sequence[CheckpointVerdict]) -> dict[tuple[int, int], float]:
        """How clearly the end of each move that came was heard, 0 to 1."""
        notes = {(c.step, c.string): one.heard for one in self.matched.matches for c in one.note.checkpoints[1:]}
        return {
            (c.step, c.string): max(n.share(c.heard_s, c.heard_s + AFTER_S) for n in notes[c.step, c.string])
            for c in checkpoints
            if c.kind == "arrive" and c.heard_s is not None
        }

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
        step = step_at(self.score, note.start_s)
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
        if not one.heard:
            pick, *rest = note.checkpoints
            return [self._verdict(pick, None, None, ("missed",)), *(self._unjudged(c) for c in rest)]
        chain = Chain(one.heard)
        arrivals = Arrivals(note, chain, self.score, self.blur_s)
        verdicts = []
        failed = False
        faults: list[Fault]
        for index, (checkpoint, glide) in enumerate(zip(note.checkpoints, arrivals.glides, strict=True)):
            due_s = self.score.time_s(checkpoint.beat)
            heard_s = chain.start_s if index == 0 else None if glide is None else glide.end_s
            told = not failed and self._is_told(checkpoint, chain, glide)
            midi = arrivals.settled(index, due_s if heard_s is None else heard_s) if told else None
            if not told or (midi is None and not self._is_plain(checkpoint, heard_s)):
                verdicts.append(self._unjudged(checkpoint))
                continue
            if heard_s is None:
                failed = midi is None or not self._is_there(checkpoint, verdicts[-1].heard_midi, midi)
                faults = ["missed-move"] if failed else self._in_tune(checkpoint, midi)
                faults += self._held(note, index, due_s, chain, failed)
                verdicts.append(self._verdict(checkpoint, None, midi, tuple(faults)))
                continue
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

    def _is_told(self, checkpoint: Checkpoint, chain: Chain, glide: Glide | None) -> bool:
        """Whether what was heard of a string tells how it came to a checkpoint: not if it was lost in the noise before
        its pitch there could be told, or it could still come."""
        faded = chain.heard_until_s < chain.end_s
        told_s = SETTLE_S + LEAST_SETTLED_S
        if checkpoint.kind == "pick":
            return True
        if glide is not None:
            return not faded or chain.heard_until_s >= glide.end_s + told_s
        due_s = self.score.time_s(checkpoint.beat)
        if faded:
            return chain.heard_until_s > due_s + max(told_s, self.limit_s(checkpoint.step, checkpoint.kind))
        return chain.end_s > due_s - self._slack_s(checkpoint)

    def _is_plain(self, checkpoint: Checkpoint, heard_s: float | None) -> bool:
        """Whether it can be told when a string came to a checkpoint, or that it did not, though no pitch was heard on
        which it settled there: in sound what is taken for a late move, or for none, may be another string that its
        curve has gone to, or what is left of it."""
        if checkpoint.kind == "pick" or not self.blur_s:
            return True
        return heard_s is not None and not self._in_time(checkpoint, heard_s)

    def _is_there(self, arrival: Checkpoint, before: float | None, midi: float) -> bool:
        """Whether a string is where a move should have taken it, though its way there was not heard: nearer to that
        than to where it was before, as far as that is known, or should have been."""
        assert arrival.from_midi is not None
        old = arrival.from_midi + self.score.tuning_cents / 100.0 if before is None else before
        off = abs(midi - self.score.sounding(arrival))
        return off < abs(midi - old) and off * 100.0 < self.tolerances.wrong_note_cents

    def _slack_s(self, checkpoint: Checkpoint) -> float:
        window = self.score.window(checkpoint)
        return 0.5 * (window.expected_s - window.start_s)

    # faults

    def limit_s(self, step: int, kind: Kind) -> float:
        """How far from its time something may come."""
        return limit_s(self.score, step, kind, self.tolerances)

    def _in_time(self, checkpoint: Checkpoint, heard_s: float) -> list[Fault]:
        if checkpoint.swell:
            return []
        most_s = self.limit_s(checkpoint.step, checkpoint.kind)
        off_s = heard_s - self.score.time_s(checkpoint.beat)
        return ["late"] if off_s > most_s else ["early"] if off_s < -most_s else []

    def _in_tune(self, checkpoint: Checkpoint, midi: float | None) -> list[Fault]:
        return [] if midi is None else in_tune(self.score, checkpoint, midi, self.tolerances)

    def _held(self, note: Note, index: int, heard_s: float, chain: Chain, failed: bool) -> list[Fault]:
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
        return verdict_on(self.score, checkpoint, heard_s, midi, faults)

    def _unjudged(self, checkpoint: Checkpoint) -> CheckpointVerdict:
        return replace(self._verdict(checkpoint, None, None, ()), judged=False)
