"""Which onset is which asked pick.

Asked picks in order of time are laid on the onsets in order of time, so that the sum of the evidence is largest.
Strings of one step may share an onset, and like to. What finds no onset is left open for `livecheck.hearing.listening`
to look for something else in its place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from livecheck.hearing.score import TimedScore, Window
from livecheck.hearing.sound.moment import LONGEST_S, SEARCH_CENTS, Evidence, Moment
from livecheck.hearing.sound.partials import UNISON_SEMITONES, covers, is_shadow
from livecheck.lesson.expectation import Checkpoint, Note

ACCEPT = 0.3
MASKED_FREE = 0.12
"""A string with fewer free partials than this cannot be told from the others."""
MASKED_STRUCK = 0.35
HIDDEN_RISE = 0.12
CARRIED_RISE, CARRIED_SHARE = 0.25, 0.6
"""By so faint an attack a string that was ringing rather rings on, where the bar has brought it, than is struck."""
PASSING_S = 0.1
"""How early or late a string may be on its way past a pitch."""
TOGETHER_BONUS = 0.25
APART_COST, APART_S = 0.5, 0.06
"""What it costs that strings which should be rolled so far apart, or further, were struck together: no hand does that
without meaning to, but while one rings its level may seem to grow until the next is struck."""
RISE_SHARE = 0.15
AWAY_COST, AWAY_S = 0.6, 0.15
"""What distance from the expected time costs at most, and at which distance most of that is reached."""
FOUND_BONUS = 0.3
MIXED_DB, MIXED_PRESENCE = -15.0, 0.65
"""In driven sound what is so much softer than the loudest, and of which no more is there, is none of the strings that
were struck: hands are even, and mixtures lie on some of any string's partials."""
SOFT_DB, OVERTONES, OVERTONE_CENTS = -20.0, 0.25, 20.0
"""What is softer than the loudest by more is a string only if so much of its overtones is there: of 4700 strings that
were struck, on four guitars in 15 kinds of dirt, none had so little."""
FAR_SEMITONES, WIDE_CENTS, NEIGHBOUR_MARGIN = 0.35, 140.0, 0.08


@dataclass(frozen=True)
class Way:
    """A string's way from one pitch to another."""

    begin_s: float
    end_s: float
    low: float
    high: float

    def holds(self, time_s: float) -> bool:
        return self.begin_s <= time_s < self.end_s


@dataclass(frozen=True)
class Asked:
    """One string that a step wants struck."""

    note: Note
    checkpoint: Checkpoint
    window: Window
    midi: float
    """As the take sounds."""
    others: tuple[float, ...]
    """Pitches of the other strings that sound with it, those left out that it hides behind."""
    hidden: bool
    """Another string's partials cover all of its own."""
    roll_s: float
    """How long after the string before it in a rolled grip it should be struck; 0 where the grip is not rolled."""
    rings: bool
    """Whether its string should still ring from before."""
    covered: tuple[float, ...] = ()
    """Pitches that ring until this pick silences them, and behind which it would hide."""
    alike_since_s: float = -math.inf
    """When the last of them, and of those that ring at its own pitch until then, should be struck."""
    passing: tuple[Way, ...] = ()
    """Ways of other strings past its pitch."""

    def is_far(self, time_s: float) -> bool:
        """Whether a time is far from its own."""
        return abs(time_s - self.window.expected_s) > AWAY_S

    def is_passed(self, time_s: float) -> bool:
        """Whether at a time far from its own another string passes its pitch."""
        return self.is_far(time_s) and any(way.holds(time_s) for way in self.passing)


@dataclass(frozen=True)
class Struck:
    """An asked string as it was found."""

    asked: Asked
    moment: int
    """Index of the moment."""
    evidence: Evidence


def asked_of(score: TimedScore) -> list[Asked]:
    """All picks that a score asks for, in order of time."""
    notes = score.expectation.notes
    asked = []
    for note in notes:
        checkpoint = note.checkpoints[0]
        midi = score.sounding(checkpoint)
        others = [
            float(other.midi_at(np.array(max(note.start_beat, other.start_beat)))) + score.tuning_cents / 100.0
            for other in notes
            if other is not note and _together(note, other)
        ]
        # Strings in unison are one sound: what speaks for one speaks for the other.
        others = [other for other in others if abs(other - midi) > UNISON_SEMITONES]
        seen = tuple(other for other in others if not is_shadow(other, midi))
        step = score.expectation.figure.steps[checkpoint.step - 1]
        roll_s = float(step.roll) * score.beat_s
        window = score.window(checkpoint)
        # What a rolled grip ends it ends with its first string.
        begin = float(step.beat)
        rings = any(other.string == note.string and other.end_beat in (note.start_beat, begin) for other in notes)
        ended = [
            (float(other.midi_at(np.array(begin))) + score.tuning_cents / 100.0, score.time_s(other.start_beat))
            for other in notes
            if other.end_beat == begin and other.ending == "pick"
        ]
        covered = tuple(pitch for pitch, _ in ended if is_shadow(pitch, midi))
        alike = (s for pitch, s in ended if covers(pitch, midi))
        since_s = max(alike, default=-math.inf)
        passing = () if checkpoint.swell else _passing(score, note)
        hidden = len(seen) < len(others)
        asked.append(Asked(note, checkpoint, window, midi, seen, hidden, roll_s, rings, covered, since_s, passing))
    return sorted(asked, key=lambda a: (a.window.expected_s, a.checkpoint.step))


def ways_before(score: TimedScore, note: Note) -> list[Way]:
    """The ways of strings that were picked before a note, each with the time in which a spectrum hears it."""
    ways = [
        way for other in score.expectation.notes if other.start_beat < note.start_beat for way in pairwise(other.knots)
    ]
    return [
        Way(
            score.time_s(begin) - LONGEST_S - PASSING_S,
            score.time_s(end) + PASSING_S,
            min(first, last),
            max(first, last),
        )
        for (begin, first), (end, last) in ways
        if first != last
    ]


def _passing(score: TimedScore, note: Note) -> tuple[Way, ...]:
    """Those that pass the pitch at which a note begins."""
    midi, within = note.checkpoints[0].midi, SEARCH_CENTS / 100.0
    return tuple(way for way in ways_before(score, note) if way.low - within <= midi <= way.high + within)


def _together(note: Note, other: Note) -> bool:
    """Whether another note sounds when this one is picked: it rings on, or it belongs to the same step."""
    return other.start_beat <= note.start_beat < other.end_beat or other.checkpoints[0].step == note.checkpoints[0].step


def lay(asked: Sequence[Asked], moments: Sequence[Moment]) -> list[Struck | None]:
    """For each asked pick the moment at which it was struck, or None."""
    choices = [_choices(one, moments) for one in asked]
    best: dict[int, tuple[float, tuple[int, ...]]] = {-1: (0.0, ())}
    step_of = [one.checkpoint.step for one in asked]
    for index, one in enumerate(asked):
        after: dict[int, tuple[float, tuple[int, ...]]] = {}
        for last, (value, chosen) in best.items():
            _keep(after, last, value, (*chosen, -1))
            for moment, (worth, _) in choices[index].items():
                shares = any(c == moment and step_of[i] == one.checkpoint.step for i, c in enumerate(chosen))
                if moment > last or shares:
                    bonus = _together_bonus(one) if shares else 0.0
                    _keep(after, moment, value + worth + bonus, (*chosen, moment))
        best = after
    _, chosen = max(best.values(), key=lambda entry: entry[0])
    return [
        None if moment < 0 else Struck(one, moment, choices[index][moment][1])
        for index, (one, moment) in enumerate(zip(asked, chosen, strict=True))
    ]


def _together_bonus(one: Asked) -> float:
    """What it is worth that a string was struck with the others of its step; a rolled one was more likely struck by
    itself, and so was one that hides behind another and cannot be seen to be struck with it."""
    if one.roll_s <= 0.0:
        return TOGETHER_BONUS
    if one.roll_s >= APART_S:
        return -APART_COST
    return -TOGETHER_BONUS if one.hidden else 0.0


def _keep(table: dict[int, tuple[float, tuple[int, ...]]], key: int, value: float, chosen: tuple[int, ...]) -> None:
    if key not in table or table[key][0] < value:
        table[key] = (value, chosen)


def _is_neighbour(asked: Asked, moment: Moment, evidence: Evidence) -> bool:
    """Whether what seems to be the string far off its pitch is rather something next to it."""
    if abs(evidence.midi - asked.midi) < FAR_SEMITONES:
        return False
    wide = moment.evidence(asked.midi, asked.others, WIDE_CENTS)
    return abs(wide.midi - asked.midi) * 100.0 > SEARCH_CENTS and wide.presence > evidence.presence + NEIGHBOUR_MARGIN


def _is_mixed(moment: Moment, evidence: Evidence) -> bool:
    """Whether what seems to be a string is rather mixtures of others."""
    return moment.driven and evidence.level_db < MIXED_DB and evidence.presence < MIXED_PRESENCE


def _is_knock(asked: Asked, moment: Moment, evidence: Evidence) -> bool:
    """Whether what seems to be a string is one soft tone at its lowest partial: a body that is knocked has such."""
    if evidence.level_db >= SOFT_DB:
        return False
    overtones = moment.overtones(evidence.midi, asked.others, OVERTONE_CENTS)
    return overtones is not None and overtones < OVERTONES


def _is_gone(low: float, asked: Asked, moment: Moment) -> bool:
    """Whether nothing is left of a string that covered an asked one: what they share is the asked one's then."""
    left = moment.evidence(low, (asked.midi, *asked.others))
    return left.free >= MASKED_FREE and left.presence < ACCEPT


def _choices(asked: Asked, moments: Sequence[Moment]) -> dict[int, tuple[float, Evidence]]:
    found: dict[int, tuple[float, Evidence]] = {}
    for index, moment in enumerate(moments):
        time_s = moment.onset.time_s
        if not asked.window.holds(time_s):
            continue
        if moment.onset.rise < CARRIED_RISE and asked.is_passed(time_s):
            continue
        evidence = moment.evidence_for_asked(asked.midi, asked.others)
        uncovered = bool(asked.covered) and all(_is_gone(low, asked, moment) for low in asked.covered)
        if not uncovered and time_s - asked.alike_since_s < asked.window.expected_s - time_s:
            # What is there is the string that covers this one, or sounds alike, being struck itself.
            continue
        is_other = _is_neighbour(asked, moment, evidence) or _is_mixed(moment, evidence)
        is_other = is_other or _is_knock(asked, moment, evidence)
        struck = 0.0 if is_other else moment.struck(evidence, uncovered)
        if asked.rings and moment.onset.rise < CARRIED_RISE:
            struck *= CARRIED_SHARE
        if evidence.free < MASKED_FREE or (asked.hidden and moment.onset.rise >= HIDDEN_RISE):
            struck = MASKED_STRUCK
        if struck >= ACCEPT:
            away_s = abs(time_s - asked.window.expected_s)
            away = AWAY_COST * (1.0 - math.exp(-away_s / AWAY_S))
            found[index] = (FOUND_BONUS + struck + RISE_SHARE * moment.onset.rise - away, evidence)
    return found
