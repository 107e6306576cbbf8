"""Where on the neck a take lies: runs of happenings in, a position for each that needs one out.

All runs are one passage to the solver (`neck/passage.py`), as the hand goes on from one figure to the next. What cannot
be is put right the way that changes least: a string that cannot ring on through a pick was silenced, of one that cannot
glide as the others do no more is asked, and of notes that lie nowhere together the least certain one is left out. The
last two are told.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from livecheck.drafting.happening import STRUCK_ON_S, Happening
from livecheck.drafting.line import Line
from livecheck.neck.neck import Neck
from livecheck.neck.passage import Choice, Voice, play_passage
from livecheck.neck.position import Position

MOST_TRIES = 10


@dataclass(frozen=True)
class Fingered:
    """One happening that needs hands and feet."""

    happening: Happening
    position: Position
    """Its strings stand in the order of `lines`."""
    lines: tuple[int, ...]
    """What rings after it."""
    picked: tuple[int, ...]
    """Of these, in the order struck."""
    choice: Choice
    doubts: tuple[str, ...] = ()

    @property
    def strings(self) -> Mapping[int, int]:
        """Line -> string."""
        return dict(zip(self.lines, self.position.strings, strict=True))


@dataclass
class _Wish:
    """What one happening asks of the neck, while that is being settled."""

    run: int
    happening: Happening
    lines: list[int]
    midis: list[float]
    picked: list[int]
    doubts: list[str] = field(default_factory=list)


def tuning_of(lines: Sequence[Line]) -> float:
    """How far a take is from equal temperament at 440 Hz, in semitones within a half: the middle of all its pitches."""
    midis = np.array([rest.midi for line in lines for rest in line.rests])
    turns = np.exp(2j * np.pi * midis)
    middle = float(np.angle(turns.mean())) / (2.0 * np.pi)
    around = midis - middle - np.rint(midis - middle)
    return middle + float(np.median(around))


def finger(
    runs: Sequence[Sequence[Happening]], lines: Sequence[Line], neck: Neck, tuning: float
) -> list[list[Fingered]]:
    """The playing of least movement; one list for each run. Silences need no position and have none."""
    wishes = [wish for run, happenings in enumerate(runs) for wish in _wishes(run, happenings, lines, tuning)]
    choices: Sequence[Choice] = ()
    for _ in range(MOST_TRIES):
        choices = play_passage(neck, _steps(wishes, lines))
        if not _put_right(wishes, choices, lines):
            break
    fingered: list[list[Fingered]] = [[] for _ in runs]
    for wish, choice in zip(wishes, choices, strict=True):
        if choice.position is not None and wish.lines:
            one = Fingered(
                wish.happening, choice.position, tuple(wish.lines), tuple(wish.picked), choice, tuple(wish.doubts)
            )
            fingered[wish.run].append(one)
    return fingered


def _wishes(run: int, happenings: Sequence[Happening], lines: Sequence[Line], tuning: float) -> Iterator[_Wish]:
    ringing: dict[int, float] = {}
    for one in happenings:
        for index in one.silenced:
            ringing.pop(index, None)
        if one.picked:
            ringing = {i: midi for i, midi in ringing.items() if lines[i].end_s >= one.time_s + STRUCK_ON_S}
        before = dict(ringing)
        for index in one.picked:
            ringing[index] = lines[index].rests[0].midi - tuning
        for index, rest in one.moved:
            if index in ringing:
                ringing[index] = rest.midi - tuning
        if ringing and (one.picked or ringing != before):
            yield _Wish(run, one, list(ringing), list(ringing.values()), list(one.picked))


def _steps(wishes: Sequence[_Wish], lines: Sequence[Line]) -> list[list[Voice]]:
    steps = []
    before: list[int] = []
    for wish in wishes:
        voices = []
        for line, midi in zip(wish.lines, wish.midis, strict=True):
            continues = before.index(line) if line in before and line not in wish.picked else None
            voices.append(Voice(round(midi, 1), continues, lines[line].string))
        steps.append(voices)
        before = wish.lines
    return steps


def _put_right(wishes: Sequence[_Wish], choices: Sequence[Choice], lines: Sequence[Line]) -> bool:
    """Change what cannot be, the first in each run; whether anything was. What comes after it may be well then."""
    changed: set[int] = set()
    for number, (wish, choice) in enumerate(zip(wishes, choices, strict=True)):
        if wish.run in changed:
            continue
        if choice.position is None and wish.lines:
            worst = min(range(len(wish.lines)), key=lambda i: lines[wish.lines[i]].margin)
            _forget(wishes[number:], wish.lines[worst])
            wish.doubts.append("one more note was heard here that lies nowhere within reach")
            changed.add(wish.run)
        elif choice.broken:
            for line in [wish.lines[index] for index in choice.broken]:
                _forget(wishes[number:], line)
            if not wish.picked:
                wish.doubts.append("a string was heard to glide where bar and pedals cannot take it")
            changed.add(wish.run)
    return bool(changed)


def _forget(wishes: Sequence[_Wish], line: int) -> None:
    """Ask nothing more of a line from here on."""
    for wish in wishes:
        if line in wish.lines:
            index = wish.lines.index(line)
            wish.lines.pop(index)
            wish.midis.pop(index)
            wish.picked = [other for other in wish.picked if other != line]


def tuning_on(fingered: Sequence[Sequence[Fingered]], lines: Sequence[Line], neck: Neck) -> float | None:
    """The tuning, in semitones, by which the strings that were found have their pitches; None if there are none."""
    off = [
        lines[line].rests[0].midi - one.position.stance.midi(string, neck.copedent)
        for run in fingered
        for one in run
        for line, string in one.strings.items()
        if line in one.picked
    ]
    return float(np.median(off)) if off else None
