"""Verdicts on figures that have just ended, while the take goes on.

A figure has ended when the player's way, as it seems now, has come to its last checkpoint and that could be decided, or
has left it for a pause or another figure. Only that passage is listened to. Tempo and tuning are those of the figures
before it together with its own, so the end of the take may say otherwise.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.score import WIDEST_BEATS, TimedScore
from livecheck.judging.meanwhile.partly import Partly, Placed
from livecheck.judging.meanwhile.remark import Remark
from livecheck.judging.places.fitting import LEAST_SUPPORT, Fitting
from livecheck.judging.places.follow import Follower
from livecheck.judging.places.passage import Passage
from livecheck.judging.sound import Sound
from livecheck.judging.timing import Event, Line
from livecheck.judging.verdict import FigureVerdict
from livecheck.judging.verdicts.judge import Judge, Judgement
from livecheck.judging.verdicts.wet import is_wet, without_repeats
from livecheck.lesson.expectation import Note

DECIDED_S = 0.25
"""So long after a checkpoint's arrival its pitch and time can be told, whatever its written time."""
LEAD_S = {"audio": 0.06, "midi": 0.02}
LEAD_A_SECOND = {"audio": 0.025, "midi": 0.002}
"""Listening begins so long before, and longer for each second of the figure: it takes time, and what sounds then will
most often go on sounding."""
LAG_S = 0.16
"""So far the way may lag behind who plays faster than the lesson is written."""
HEARD_S = 0.15
"""So much of the last checkpoint is heard at least."""
WORTH_S = 0.05
"""It is not worth listening again for what comes sooner."""
SOUNDING_S = 0.15
"""A string that was heard so near to now may still sound: nobody knows yet whether it was cut short."""
BEFORE = 12
"""Figures before this one that tell tempo and tuning."""
LOOK_S = 0.03
"""How often it is looked whether a figure has ended."""
PATIENCE = 2
"""How often a passage is listened to once more because its last checkpoint had not come."""
SOONEST = 0.8
"""Who falls silent before so large a share of a figure's time may still go on with it."""
NEXT_BEATS = 0.5
"""What is struck so shortly before a figure's end may belong to the next."""
LEAST_BEATS = 2
"""So many different beats must have come before anything can be said of where a figure lies."""
LEAST_RIGHT = 0.5
"""With fewer checkpoints right the player is more likely somewhere else in the figure than where he seems to be."""
PAST_S = 20.0
"""What was no figure then will not become one."""


_Key = tuple[int, float]
"""A passage's figure and when it began."""


@dataclass(frozen=True)
class _Sight:
    """Where a passage lies by its picks alone."""

    came_s: float
    """When the way had come to the last checkpoint."""
    line: Line
    tuning: float
    from_s: float


@dataclass(frozen=True)
class _Heard:
    """What was heard of one figure."""

    events: list[Event]
    judgement: Judgement
    notes: Sequence[HeardNote]


class SoFar:
    """Says of each figure, once, how it went."""

    def __init__(self, fitting: Fitting, follower: Follower) -> None:
        self._fitting = fitting
        self._follower = follower
        self._before: deque[_Heard] = deque(maxlen=BEFORE)
        self._last: tuple[Passage, Line] | None = None
        self._done_s = 0.0
        """What began earlier has been seen to."""
        self._look_s = 0.0
        self._playing: int | None = None
        """The only figure that has not been seen to."""
        self._sights: dict[_Key, _Sight] = {}
        self._waiting: dict[_Key, tuple[int, float]] = {}
        """How often a passage was listened to in vain, and when it will be again."""
        self._refused: set[tuple[_Key, float]] = set()
        """Passages, with their ends, that did not hold their figures."""
        self._attempts: dict[int, int] = {}
        self._partly = Partly(fitting, follower)

    def certain(self, sound: Sound, now_s: float) -> list[Remark]:
        """What has become certain of the figure that is being played since this was asked last."""

        def place() -> Placed | None:
            passages = self._follower.passages_since(self._done_s)
            if not passages or len(self._fitting.path_events(passages[-1])) < LEAST_BEATS:
                return None
            sight = self._sight(passages[-1], None, sound, math.inf)
            return passages[-1], sight.line, sight.tuning, sight.from_s

        is_tuned = bool(self._before) or self._fitting.brief.lesson.reference_hz is not None
        attempt = 1 if self._follower.figure is None else self._attempts.get(self._follower.figure, 0) + 1
        return self._partly.certain(sound, now_s, place, attempt, is_tuned)

    def ended(self, sound: Sound, now_s: float) -> list[FigureVerdict]:
        """The figures that have ended since this was asked last. `sound` is all that was heard up to now."""
        if now_s < self._look_s or self._is_in_the_midst():
            return []
        self._look_s = now_s + LOOK_S
        begun = self._follower.passages_since(self._done_s)
        passages = [passage for passage in begun if self._fitting.path_events(passage)]
        self._playing = passages[0].figure if len(passages) == 1 else None
        for index, passage in enumerate(passages):
            if (_key(passage), float(passage.times_s[-1])) in self._refused:
                if now_s - passage.times_s[-1] > PAST_S:
                    self._see_to(passage)
                continue
            following = passages[index + 1] if index + 1 < len(passages) else None
            is_left = following is not None or self._follower.figure is None
            self._look_out(passage, following, sound)
            listen_s = self._listen_s(passage, is_left, sound.source)
            if listen_s is None:
                break
            if now_s < listen_s:
                self._look_s = min(self._look_s, listen_s)
                break
            verdict = self._verdict(passage, following, sound, now_s)
            return [] if verdict is None else [verdict]
        return []

    def _is_in_the_midst(self) -> bool:
        """Whether there is nothing to be seen to but a figure that is far from its end."""
        if self._playing is None or self._follower.figure != self._playing:
            return False
        *before, last = self._fitting.expectations[self._playing].beats
        return self._follower.beat < (before or [last])[-1] - 1e-6

    def _see_to(self, passage: Passage) -> None:
        self._done_s = float(passage.times_s[-1])
        self._sights.clear()
        self._waiting.clear()
        self._refused.clear()

    def _look_out(self, passage: Passage, following: Passage | None, sound: Sound) -> None:
        """Take a first look at a passage as soon as its end has been reached, while there is time."""
        last = self._fitting.expectations[passage.figure].beats[-1]
        came_s = passage.time_of(last) if passage.beats[-1] >= last - 1e-6 else math.inf
        sight = self._sights.get(_key(passage))
        if came_s < math.inf and (sight is None or abs(sight.came_s - came_s) > LAG_S):
            self._sights[_key(passage)] = self._sight(passage, following, sound, came_s)

    def _sight(self, passage: Passage, following: Passage | None, sound: Sound, came_s: float) -> _Sight:
        line, tuning = self._line(self._fitting.path_events(passage)), self._tuning([])
        from_s, until_s = self._borders(passage, line, following)
        seen = sound.glimpse(self._fitting.score(passage, line, tuning), from_s, until_s)
        if seen is not None:
            line = self._line(self._fitting.seen_events(passage, seen))
            tuning = self._tuning([one.cents for one in seen])
        return _Sight(came_s, line, tuning, from_s)

    def _listen_s(self, passage: Passage, is_left: bool, source: Literal["audio", "midi"]) -> float | None:
        """When to listen to a passage: its last checkpoint can be decided soon. None while it is being played."""
        expectation = self._fitting.expectations[passage.figure]
        *before, last = expectation.beats
        beat_s = self._beat_s(passage)
        needed_s = max(self._needed_s(note, last, beat_s) for note in expectation.notes)
        came = passage.beats[-1] >= last - 1e-6
        lead_s = LEAD_S[source] + LEAD_A_SECOND[source] * float(passage.times_s[-1] - passage.times_s[0])
        if is_left and self._follower.figure is None:
            soonest_s = passage.times_s[0] + SOONEST * (last - expectation.beats[0]) * beat_s
            return float(max(soonest_s, passage.time_of(last)) + needed_s - lead_s)
        if is_left and not came:
            return float(passage.times_s[-1])
        if _key(passage) in self._waiting and not is_left:
            return self._waiting[_key(passage)][1]
        if came:
            sight = self._sights[_key(passage)]
            due_s = sight.line.time_s(last)
            came_s = due_s if 0.0 < sight.came_s - due_s < LAG_S else sight.came_s
            return came_s + max(needed_s - lead_s, HEARD_S)
        if before and passage.beats[-1] >= before[-1] - 1e-6:
            return passage.time_of(before[-1]) + (last - before[-1] + WIDEST_BEATS) * beat_s
        return None

    def _needed_s(self, note: Note, last: float, beat_s: float) -> float:
        """How long after a beat the last checkpoint of a note can be decided."""
        beat = note.checkpoints[-1].beat
        half_s = self._fitting.brief.tolerances.short_share * (note.end_beat - beat) * beat_s
        return (beat - last) * beat_s + max(DECIDED_S, half_s)

    def _beat_s(self, passage: Passage) -> float:
        """How long a beat is: as in the figure before, or, in the first, as this one seems to be played."""
        if self._last is not None:
            return self._last[1].beat_s
        own_s = self._line(self._fitting.path_events(passage)).beat_s
        return max(own_s, self._fitting.brief.lesson.beat_s) if self._follower.figure is None else own_s

    def _line(self, events: list[Event]) -> Line:
        return self._fitting.lines([*(one.events for one in self._before), events])[-1]

    def _tuning(self, cents: Sequence[float]) -> float:
        return self._fitting.tuning_cents([*(c for one in self._before for c in one.judgement.cents_off()), *cents])

    def _verdict(self, passage: Passage, following: Passage | None, sound: Sound, now_s: float) -> FigureVerdict | None:
        """The verdict on a passage; None if it does not hold its figure, or its end is still to come."""
        if passage.support < LEAST_SUPPORT:
            self._refuse(passage)
            return None
        brief = self._fitting.brief
        judge = Judge(brief.lesson.copedent, brief.tolerances, sound.blur_s)
        sight = self._sights.get(_key(passage)) or self._sight(passage, following, sound, math.inf)
        score = self._fitting.score(passage, sight.line, sight.tuning)
        _, until_s = self._borders(passage, sight.line, following)
        notes = sound.hear(score, sight.from_s, until_s)
        judgement = judge.judge(score, notes)
        is_left = following is not None or self._follower.figure is None
        if not is_left and self._waits(passage, score, judgement, now_s):
            return None
        if not self._fitting.is_found(passage, judgement, alone=False, aside=self._is_again(passage)):
            self._refuse(passage)
            return None
        line, tuning = self._line(judgement.events()), self._tuning(judgement.cents_off())
        self._before.append(_Heard(judgement.events(), judgement, notes))
        self._last = passage, line
        self._see_to(passage)
        at = replace(score, start_s=line.start_s, beat_s=line.beat_s, tuning_cents=tuning)
        self._attempts[passage.figure] = self._attempts.get(passage.figure, 0) + 1
        final = _as_far_as_known(self._final(judge, at, notes), at, notes, now_s)
        return self._fitting.verdict(passage, self._attempts[passage.figure], line, final)

    def _borders(self, passage: Passage, line: Line, following: Passage | None) -> tuple[float, float]:
        """Where the attempt before a passage ends, and the one after it begins."""
        around = [] if self._last is None else [self._last]
        around.append((passage, line))
        if following is not None:
            around.append((following, self._line(self._fitting.path_events(following))))
        borders = self._fitting.borders(*zip(*around, strict=True))
        at = int(self._last is not None)
        return borders[at], borders[at + 1]

    def _is_again(self, passage: Passage) -> bool:
        """Whether the figure before a passage was the same."""
        return self._last is not None and self._last[0].figure == passage.figure

    def _refuse(self, passage: Passage) -> None:
        self._refused.add((_key(passage), float(passage.times_s[-1])))

    def _waits(self, passage: Passage, score: TimedScore, judgement: Judgement, now_s: float) -> bool:
        """Whether the end of a passage may still come, although the player's way seems to have come there."""
        last = score.expectation.beats[-1]
        heard_s = [c.heard_s for c in judgement.checkpoints if c.beat == last and c.heard_s is not None]
        times, _ = self._waiting.get(_key(passage), (0, 0.0))
        if judgement.right < LEAST_RIGHT * len(judgement.checkpoints):
            until_s = now_s + WIDEST_BEATS * score.beat_s
        elif times < PATIENCE and heard_s:
            until_s = max(heard_s) + HEARD_S
        elif times < PATIENCE:
            until_s = score.time_s(last + WIDEST_BEATS)
        else:
            return False
        if until_s < now_s + WORTH_S:
            return False
        self._waiting[_key(passage)] = times + 1, until_s
        return True

    def _final(self, judge: Judge, score: TimedScore, notes: Sequence[HeardNote]) -> Judgement:
        """The judgement at its line, echo and reverb allowed for as far as they are known."""
        heard = [note for one in self._before for note in one.notes]
        wet = is_wet(heard)
        judgement = judge.judge(score, notes, wet)
        if not wet:
            return judgement
        *earlier, _ = (one.judgement for one in self._before)
        *_, judgement = without_repeats([*earlier, judgement], heard)
        return judgement


def _key(passage: Passage) -> _Key:
    return passage.figure, float(passage.times_s[0])


def _as_far_as_known(judgement: Judgement, score: TimedScore, notes: Sequence[HeardNote], now_s: float) -> Judgement:
    """Without what only seems cut short because nothing has been heard yet of what comes, and without extras that may
    be the beginning of the next figure."""
    sounding = {note.string for note in notes if note.end_s > now_s - SOUNDING_S}
    checkpoints = tuple(
        replace(c, faults=tuple(f for f in c.faults if f != "cut-short" or c.string not in sounding))
        for c in judgement.checkpoints
    )
    end_s = score.time_s(1.0 + float(judgement.figure.length) - NEXT_BEATS)
    extras = tuple(extra for extra in judgement.extras if extra.at_s < end_s)
    return replace(judgement, checkpoints=checkpoints, extras=extras)
