"""What has become certain of a figure that is still being played, where notes have to be looked for.

Only the part that can no longer change is listened to, and what rings into it: the checkpoints whose time is over,
since the last look. Line and tuning are those of the picks so far. When most of the part seems wrong, the player is
more likely elsewhere, and nothing is said.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from livecheck.hearing.score import WIDEST_BEATS, TimedScore
from livecheck.judging.meanwhile.remark import Remark
from livecheck.judging.places.fitting import Fitting
from livecheck.judging.places.follow import Follower
from livecheck.judging.places.passage import Passage
from livecheck.judging.sound import Sound
from livecheck.judging.timing import Line
from livecheck.judging.verdict import ASTRAY, Fault, FigureVerdict
from livecheck.judging.verdicts.judge import Judge, Judgement
from livecheck.lesson.expectation import Checkpoint, Expectation

LATER_S = 0.3
"""So long after a checkpoint is no longer searched its pitch and its strays can be told."""
EVERY_S = 1.5
"""A look takes time in which nothing else is done."""
NEAR_END_S = 0.8
"""So shortly before a figure's last beat there is more use in waiting for its verdict."""
AHEAD_BEATS = 0.5
LEAST_RIGHT = 0.5
TUNED: tuple[Fault, ...] = ("flat", "sharp")
TIMED: tuple[Fault, ...] = ("early", "late")

Placed = tuple[Passage, Line, float, float]
"""The passage that is being played, its line, the tuning in cents, and where the attempt before it ends."""


class Partly:
    """Asked again and again; says of each checkpoint once, if anything."""

    def __init__(self, fitting: Fitting, follower: Follower) -> None:
        self._fitting = fitting
        self._follower = follower
        self._look_s = 0.0
        self._playing: tuple[int, float] | None = None
        """The figure that is being played and about when it began."""
        self._done_beat = 0.0

    def certain(
        self, sound: Sound, now_s: float, place: Callable[[], Placed | None], attempt: int, is_tuned: bool
    ) -> list[Remark]:
        """What has become certain since this was asked last. `place` is asked only when there is something to hear."""
        figure, beat = self._follower.figure, self._follower.beat
        if now_s < self._look_s or figure is None:
            return []
        expectation = self._fitting.expectations[figure]
        beat_s = self._fitting.brief.lesson.beat_s
        decided = _decided(expectation, beat - LATER_S / beat_s)
        if decided is None or beat > expectation.beats[-1] - NEAR_END_S / beat_s:
            return []
        placed = place()
        self._look_s = now_s + EVERY_S
        if placed is None or placed[0].figure != figure:
            return []
        passage, line, tuning, from_s = placed
        key = figure, float(passage.times_s[0])
        if (
            self._playing is None
            or self._playing[0] != figure
            or abs(self._playing[1] - key[1]) > WIDEST_BEATS * beat_s
        ):
            self._playing, self._done_beat = key, 0.0
        done, self._done_beat = self._done_beat, max(decided, self._done_beat)
        if decided <= done + 1e-6:
            return []
        score = self._fitting.score(passage, line, tuning)
        part = _part(score, done, beat + AHEAD_BEATS)
        from_s = max(from_s, part.time_s(part.expectation.notes[0].start_beat - AHEAD_BEATS))
        brief = self._fitting.brief
        judgement = Judge(brief.lesson.copedent, brief.tolerances, sound.blur_s).judge(
            part, sound.hear(part, from_s, now_s)
        )
        return self._remarks(score, judgement, done, decided, attempt, is_tuned)

    def _remarks(
        self, score: TimedScore, judgement: Judgement, done: float, decided: float, attempt: int, is_tuned: bool
    ) -> list[Remark]:
        new = [c for c in judgement.checkpoints if done + 1e-6 < c.beat <= decided + 1e-6]
        right = [c for c in new if c.right]
        if not new or len(right) < LEAST_RIGHT * len(new):
            return []
        told = (*ASTRAY, *(TUNED if is_tuned else ()), *(TIMED if self._fitting.brief.timing == "click" else ()))
        faulty = [replace(c, faults=tuple(f for f in c.faults if f in told)) for c in new if c.judged]
        faulty = [c for c in faulty if c.faults]
        after_s, until_s = (score.time_s(beat) for beat in (done + AHEAD_BEATS, decided))
        extras = tuple(extra for extra in judgement.extras if after_s < extra.at_s <= until_s)
        if not faulty and not extras:
            return []
        windows = score.windows
        since_s = max((windows[c.step, c.string].stop_s for c in faulty), default=until_s)
        figure, tempo = score.expectation.figure, 60.0 / score.beat_s
        verdict = FigureVerdict(figure, attempt, True, score.start_s, tempo, self._fitting.referenced(faulty), extras)
        return [Remark(verdict, since_s + LATER_S)]


def _decided(expectation: Expectation, beat: float) -> float | None:
    """The last beat of which everything is over, and of all before it, when the player has come to a beat."""
    found = None
    for each in expectation.beats:
        here = [
            _last_beat(note.checkpoints, at)
            for note in expectation.notes
            for at, checkpoint in enumerate(note.checkpoints)
            if checkpoint.beat == each
        ]
        if max(here) > beat:
            return found
        found = each
    return found


def _last_beat(checkpoints: Sequence[Checkpoint], at: int) -> float:
    """Until when a checkpoint of a note is searched, in beats; a little more than where its string is struck again."""
    beat = checkpoints[at].beat
    after = (checkpoints[at + 1].beat - beat) / 2.0 if at + 1 < len(checkpoints) else WIDEST_BEATS
    return beat + min(after, WIDEST_BEATS)


def _part(score: TimedScore, from_beat: float, until_beat: float) -> TimedScore:
    """A score with only the notes of a part of it, and those that ring into it."""
    notes = score.expectation.notes
    first = min(note.start_beat for note in notes if note.end_beat > from_beat)
    inside = tuple(note for note in notes if first <= note.start_beat <= until_beat)
    return replace(score, expectation=Expectation(score.expectation.figure, inside))
