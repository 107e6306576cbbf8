"""What the player did, in a short sentence, worked out from all strings of a step at once.

In: the step as asked, and the pitch heard on each of its strings. Out: a sentence per string, only where one
explanation comes within 20 cents of everything that it touches. Strings that sounded right count as well: a bar
cannot be a fret low under one string of two. Of several explanations the cheapest set wins that covers the most
strings (a smallest weighted cover).

Pitches are MIDI numbers with decimals.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from livecheck.judging.verdicts.slip import FIT_CENTS, Scene, slips
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import HARMONIC_SEMITONES
from livecheck.lesson.figure import Figure
from livecheck.lesson.listing import listed

UNEXPLAINED = 5.0
"""The price of leaving a string without a cause; a dearer explanation of one string is a guess."""
NODES: dict[int, float] = {0: 0.0, **HARMONIC_SEMITONES}
"""Frets above the bar -> semitones, with 0 for a string that is not touched."""
SPREAD_CENTS = 12.0
"""How far a right explanation is usually away from what was heard."""


@dataclass(frozen=True)
class _Reason:
    """One explanation and the strings that it accounts for."""

    words: str
    price: float
    strings: frozenset[int]
    swap: tuple[int, int] | None = None
    """(played, asked) where a neighbouring string was struck."""


def causes_of(
    figure: Figure,
    step_number: int,
    heard: Mapping[int, float | None],
    astray: Collection[int],
    copedent: Copedent,
    earlier_cents: Mapping[int, float] | None = None,
) -> dict[int, str]:
    """The cause for each string of a step that was off in pitch, as far as one can be told.

    `step_number` counts from 1. `heard` has every string judged at this step, right or wrong, with the settled pitch
    that it had, the take's tuning taken off (heard_midi - tuning_cents / 100); None where no pitch was heard.
    `astray` names those of them whose pitch is a fault: flat, sharp, wrong-note, missed-move. `copedent` is the one
    by which the take is judged. `earlier_cents` says how far strings that ring into this step were off at their
    checkpoint before: where only a pedal moves, it tells a bar that was flat already from a pedal pressed too little.
    Strings without an explanation are left out of the result; strings that share one share its words.
    """
    sounded = {string: midi for string, midi in heard.items() if midi is not None}
    scene = Scene(figure, figure.steps[step_number - 1], sounded, copedent, earlier_cents or {})
    todo = frozenset(astray) & scene.heard.keys()
    if not todo:
        return {}
    chosen = _cover(todo, [*_stance_reasons(scene, todo), *_string_reasons(scene, todo)])[1]
    causes = {string: reason.words for reason in reversed(chosen) for string in reason.strings}
    swaps = sorted(reason.swap for reason in chosen if reason.swap)
    if len(swaps) > 1:
        played, asked = zip(*swaps, strict=True)
        words = f"strings {listed([str(s) for s in played])} instead of {listed([str(s) for s in asked])}"
        causes.update(dict.fromkeys(asked, words))
    return causes


def _stance_reasons(scene: Scene, todo: frozenset[int]) -> Iterator[_Reason]:
    for slip in slips(scene):
        moved = scene.moved(slip.stance)
        offs = [scene.off_cents(string, slip.stance) for string in moved]
        if moved & todo and all(abs(cents) <= slip.fit_cents for cents in offs):
            yield _Reason(slip.words, slip.price + _strain(*offs), moved & todo)


def _string_reasons(scene: Scene, todo: frozenset[int]) -> Iterator[_Reason]:
    """Another string struck, or a harmonic that did not come."""
    step, stance = scene.step, scene.step.stance
    for string in todo & set(step.pick):
        harmonic = scene.harmonic(string)
        raised = HARMONIC_SEMITONES[harmonic] if harmonic else 0.0
        for other in range(1, len(scene.copedent.strings) + 1):
            off_cents = 100.0 * (scene.heard[string] - stance.midi(other, scene.copedent) - raised)
            if other not in step.pick and abs(off_cents) <= FIT_CENTS:
                price = 2.0 + 0.5 * (abs(other - string) - 1) + _strain(off_cents)
                yield _Reason(f"string {other} instead of {string}", price, frozenset((string,)), (other, string))
        if harmonic is not None:
            yield from _node_reasons(scene, string, harmonic)


def _node_reasons(scene: Scene, string: int, harmonic: int) -> Iterator[_Reason]:
    """A harmonic that did not come, or came from another node."""
    open_midi = scene.step.stance.midi(string, scene.copedent)
    for frets, semitones in NODES.items():
        off_cents = 100.0 * (scene.heard[string] - open_midi - semitones)
        if frets != harmonic and abs(off_cents) <= FIT_CENTS:
            words = f"harmonic touched {frets} frets up, not {harmonic}" if frets else "harmonic did not sound"
            yield _Reason(words, 1.5 + _strain(off_cents), frozenset((string,)))


def _strain(*offs_cents: float) -> float:
    """What the misfit of an explanation adds to its price: squared distance, as for errors spread normally."""
    return sum(0.5 * (cents / SPREAD_CENTS) ** 2 for cents in offs_cents)


def _cover(todo: frozenset[int], reasons: list[_Reason]) -> tuple[float, tuple[_Reason, ...]]:
    """The cheapest reasons that together account for as many strings as can be."""
    if not todo:
        return 0.0, ()
    string = min(todo)
    price, chosen = _cover(todo - {string}, reasons)
    best = UNEXPLAINED + price, chosen
    for reason in reasons:
        if string in reason.strings and reason.price < best[0]:
            price, chosen = _cover(todo - reason.strings, reasons)
            if reason.price + price < best[0]:
                best = reason.price + price, (reason, *chosen)
    return best
