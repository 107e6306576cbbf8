"""A lick elsewhere: a figure in another key, and in other places on the neck.

In: a figure and the neck it is played on. Out: figures with the same rhythm, picks and moves, whose notes are all so
many semitones higher or lower. The first way is the same hands, the bar further up or down; others come from the
playing of a passage that moves least.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from livecheck.lesson.figure import Bar, Figure, Stance, Step
from livecheck.lesson.reading import DEFAULT_OVER
from livecheck.lesson.sounding import Sounding, sounding
from livecheck.neck.neck import HIGHEST_FRET, Neck
from livecheck.neck.passage import Passage, Voice, held_when_needed
from livecheck.neck.position import Position

STARTS = 12
"""Places for the first step from which other ways are tried."""


def voices_of(sounds: Sounding, semitones: int = 0) -> tuple[Voice, ...]:
    """What sounds at a step as the solver takes it, so much higher."""
    notes = zip(sounds.midis, sounds.continues, strict=True)
    return tuple(Voice(midi + semitones, continues) for midi, continues in notes)


def shifted(figure: Figure, semitones: int) -> Figure | None:
    """The same hands with the bar so many frets further, or an octave from there; None if it leaves the neck."""
    frets = [fret for step in figure.steps for _, fret in step.stance.bar.frets]
    for by in (semitones, semitones - 12, semitones + 12):
        if min(frets) + by >= (1 if by else 0) and max(frets) + by <= HIGHEST_FRET:
            bars = [Bar(tuple((s, fret + by) for s, fret in step.stance.bar.frets)) for step in figure.steps]
            return _with_stances(
                figure, [replace(step.stance, bar=bar) for step, bar in zip(figure.steps, bars, strict=True)]
            )
    return None


def elsewhere(
    figure: Figure, neck: Neck, semitones: int, most: int, strings: Sequence[int] | None = None
) -> Iterator[Figure]:
    """Other ways to play it, at most so many, the one of least movement first; none with the picks that it has now.
    `strings`: use no others."""
    told = [{step.pick for step in figure.steps}]
    steps = [voices_of(sounds, semitones) for sounds in sounding(figure, neck.copedent) if sounds.strings]
    passage = Passage(neck, steps, strings)
    first = passage.play(most=STARTS)
    starts: list[Position | None] = [None, *(other.position for other in first[0].alternatives)]
    for start in starts:
        choices = first if start is None else passage.play(start, most=0)
        positions = [choice.position for choice in choices if choice.position is not None and not choice.broken]
        if len(positions) < len(steps) or len(told) > most:
            continue
        played = _played(figure, neck, held_when_needed(neck, positions))
        picks = {step.pick for step in played.steps}
        if picks not in told:
            told.append(picks)
            yield played


def _played(figure: Figure, neck: Neck, positions: Sequence[Position]) -> Figure:
    """The figure on other strings, without remarks, as these may be on the hands; each position is of a step at which
    something sounds."""
    waiting = iter(positions)
    steps: list[Step] = []
    stances: list[Stance] = []
    was: Mapping[int, int] = {}
    for step, sounds in zip(figure.steps, sounding(figure, neck.copedent), strict=True):
        position = next(waiting) if sounds.strings else None
        here = dict(zip(sounds.strings, position.strings, strict=True)) if position else {}
        known = {**was, **here}
        steps.append(
            replace(
                step,
                pick=tuple(here[s] for s in step.pick),
                keeps=step.keeps and frozenset(known[s] for s in step.keeps if s in known),
                block=step.block and frozenset(known[s] for s in step.block if s in known),
                remark="",
            )
        )
        stances.append(position.stance if position else stances[-1])
        was = here
    return _with_stances(replace(figure, steps=tuple(steps)), stances)


def _with_stances(figure: Figure, stances: Sequence[Stance]) -> Figure:
    """The figure with other stances; a move takes no longer than there is room for it (`livecheck.lesson.reading`)."""
    steps: list[Step] = []
    bar_since = changes_since = figure.steps[0].beat
    for step, stance in zip(figure.steps, stances, strict=True):
        before = steps[-1].stance if steps else stance
        moves_bar = stance.bar != before.bar
        moves_changes = stance.down != before.down or stance.pull != before.pull
        sinces = [since for since, moves in ((bar_since, moves_bar), (changes_since, moves_changes)) if moves]
        over = min([step.over if step.is_move or sinces else DEFAULT_OVER, *(step.beat - since for since in sinces)])
        bar_since = step.beat if moves_bar else bar_since
        changes_since = step.beat if moves_changes else changes_since
        steps.append(
            replace(step, stance=stance, over=Fraction(over), moves_bar=moves_bar, moves_changes=moves_changes)
        )
    return replace(figure, steps=tuple(steps))
