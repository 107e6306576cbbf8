"""Which heard note is which asked pick, string by string; and which notes nobody asked for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.score import TimedScore
from livecheck.lesson.expectation import Note

OPEN_COST = 1.0
"""Leaving an asked pick without a note; more than any distance within its window is worth."""
WRONG_COST = 0.4
TOUCH_S = 0.03
UNISON_CENTS = 5.0


@dataclass(frozen=True)
class Match:
    """One asked note with the notes that were heard for it: the one that its pick made, then any struck again."""

    note: Note
    heard: tuple[HeardNote, ...]
    instead: bool = False
    """The first of them is another pitch, perhaps on another string."""

    @property
    def again(self) -> tuple[HeardNote, ...]:
        return self.heard[1:]


@dataclass(frozen=True)
class Matched:
    matches: tuple[Match, ...]
    """One for each asked note, in the expectation's order."""
    strays: tuple[HeardNote, ...]


def pick_midi(heard: HeardNote, asked: float) -> float | None:
    """The pitch of a note soon after its pick; where it glides already, the one nearest to what was asked."""
    return min(heard.first_midis, key=lambda midi: abs(midi - asked), default=None)


def match(score: TimedScore, heard: Sequence[HeardNote], wrong_cents: float) -> Matched:
    """Lay heard notes on asked ones. Times decide between notes of one string; a pitch that is off costs a little."""
    notes = score.expectation.notes
    chosen: dict[int, HeardNote] = {}
    for string in {note.string for note in notes}:
        asked = [i for i, note in enumerate(notes) if note.string == string]
        played = [note for note in heard if note.string == string]
        chosen.update(_lay(score, [(i, notes[i]) for i in asked], played, wrong_cents))
    free = [note for note in heard if not any(note is taken for taken in chosen.values())]
    free = _serve_unisons(score, chosen, heard, free, wrong_cents)
    instead = _serve_wrong(score, chosen, free, wrong_cents)
    free = [note for note in free if not any(note is taken for taken in instead.values())]
    matches: list[Match] = []
    taken: list[HeardNote] = []
    for index, note in enumerate(notes):
        first = chosen.get(index) or instead.get(index)
        if first is None:
            matches.append(Match(note, ()))
            continue
        # What is struck with the pick that ends a string strikes none that rings.
        enders = [one for i, one in chosen.items() if notes[i].start_beat >= note.end_beat]
        over_s = min((one.start_s for one in enders), default=math.inf) - TOUCH_S
        left = [n for n in free if n.start_s < over_s and not any(n is t for t in taken)]
        again = _again(score, note, first, left, wrong_cents)
        taken += again
        asked_midi = score.sounding(note.checkpoints[0])
        pitch = pick_midi(first, asked_midi)
        off = pitch is not None and abs(pitch - asked_midi) * 100.0 >= wrong_cents
        matches.append(Match(note, (first, *again), instead=index in instead or off))
    return Matched(tuple(matches), tuple(n for n in free if not any(n is t for t in taken)))


def _lay(
    score: TimedScore, asked: Sequence[tuple[int, Note]], played: Sequence[HeardNote], wrong_cents: float
) -> dict[int, HeardNote]:
    """The cheapest monotone pairing of a string's asked and played notes."""
    table: list[list[tuple[float, tuple[tuple[int, int], ...]]]] = [[(0.0, ()) for _ in range(len(played) + 1)]]
    for row, (_, note) in enumerate(asked, start=1):
        line: list[tuple[float, tuple[tuple[int, int], ...]]] = [(OPEN_COST * row, ())]
        for column, one in enumerate(played, start=1):
            options = [(table[row - 1][column][0] + OPEN_COST, table[row - 1][column][1]), line[column - 1]]
            cost = _cost(score, note, one, wrong_cents)
            if cost is not None:
                value, pairs = table[row - 1][column - 1]
                options.append((value + cost, (*pairs, (row - 1, column - 1))))
            line.append(min(options, key=lambda option: option[0]))
        table.append(line)
    return {asked[row][0]: played[column] for row, column in table[-1][-1][1]}


def _cost(score: TimedScore, note: Note, heard: HeardNote, wrong_cents: float) -> float | None:
    checkpoint = note.checkpoints[0]
    window = score.window(checkpoint)
    if not window.holds(heard.start_s):
        return None
    pitch = pick_midi(heard, score.sounding(checkpoint))
    wrong = pitch is not None and abs(pitch - score.sounding(checkpoint)) * 100.0 >= wrong_cents
    span = max(window.stop_s - window.start_s, 1e-3)
    return abs(heard.start_s - window.expected_s) / span + WRONG_COST * wrong


def _serve_unisons(
    score: TimedScore,
    chosen: dict[int, HeardNote],
    heard: Sequence[HeardNote],
    free: list[HeardNote],
    wrong_cents: float,
) -> list[HeardNote]:
    """A missing string is heard all the same where another one sounded its very pitch: unisons count as one."""
    for index, note in enumerate(score.expectation.notes):
        if index in chosen:
            continue
        pitch = score.sounding(note.checkpoints[0])
        window = score.window(note.checkpoints[0])
        elsewhere = [one for i, one in chosen.items() if not _are_unisons(note, score.expectation.notes[i])]
        same = [
            one
            for one in heard
            if window.holds(one.start_s) and not any(one is theirs for theirs in elsewhere)
            if (found := pick_midi(one, pitch)) is not None and abs(found - pitch) * 100.0 < wrong_cents
        ]
        if same:
            chosen[index] = min(same, key=lambda one: abs(one.start_s - window.expected_s))
            free = [one for one in free if one is not chosen[index]]
    return free


def _are_unisons(one: Note, other: Note) -> bool:
    """Whether one step asks two strings for the same pitch."""
    first, second = one.checkpoints[0], other.checkpoints[0]
    return first.step == second.step and abs(first.midi - second.midi) * 100.0 < UNISON_CENTS


def _serve_wrong(
    score: TimedScore, chosen: dict[int, HeardNote], free: Sequence[HeardNote], wrong_cents: float
) -> dict[int, HeardNote]:
    """Strays that stand in a missing note's place; each serves one, and none that was struck together with another
    step's notes."""
    notes = score.expectation.notes
    struck_s = [(notes[index].checkpoints[0].step, one.start_s) for index, one in chosen.items()]
    steps = [{step for step, start_s in struck_s if abs(start_s - one.start_s) <= TOUCH_S} for one in free]
    offers = []
    for index, note in enumerate(notes):
        window = score.window(note.checkpoints[0])
        pitch = score.sounding(note.checkpoints[0])
        for place, one in enumerate(free):
            found = pick_midi(one, pitch) if index not in chosen and window.holds(one.start_s) else None
            is_of_another = bool(steps[place]) and note.checkpoints[0].step not in steps[place]
            if found is not None and abs(found - pitch) * 100.0 >= wrong_cents and not is_of_another:
                away = abs(one.start_s - window.expected_s) + 0.01 * abs((one.string or 0) - note.string)
                offers.append((away, index, place))
    served: dict[int, HeardNote] = {}
    used: set[int] = set()
    for _, index, place in sorted(offers):
        if index not in served and place not in used:
            served[index] = free[place]
            used.add(place)
    return served


def _again(
    score: TimedScore, note: Note, first: HeardNote, free: Sequence[HeardNote], wrong_cents: float
) -> list[HeardNote]:
    """Notes that strike the same string again while it rings; where no string is known, at the pitch that it has
    then."""
    again: list[HeardNote] = []
    last = first
    for one in sorted(free, key=lambda n: n.start_s):
        same = one.string == first.string and (one.string is not None or _fits(score, note, one, wrong_cents))
        if same and last.start_s < one.start_s <= last.end_s + TOUCH_S:
            again.append(one)
            last = one
    return again


def _fits(score: TimedScore, note: Note, one: HeardNote, wrong_cents: float) -> bool:
    """Whether a heard note begins at the pitch that an asked note should have by then."""
    beat = (one.start_s - score.start_s) / score.beat_s + 1.0
    due = float(note.midi_at(np.array(beat))) + score.tuning_cents / 100.0
    found = pick_midi(one, due)
    return found is not None and abs(found - due) * 100.0 < wrong_cents
