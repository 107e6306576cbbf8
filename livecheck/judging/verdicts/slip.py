"""Slips of hand, foot and knee: what may have been done at a step instead of what it asks.

A `Slip` is a stance that was held instead of the one asked for, in words, with a price: the likelier the slip, the
cheaper. The prices only rank explanations against each other. They come from common practice, no source: what a step
asks to change is most often what went wrong; a bar is off by a fret more often than by three; a pedal that nobody
asked for is rare.

Pitches are MIDI numbers with decimals, levels of a pedal or lever run from 0 (up) to 1 (all the way).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import HARMONIC_SEMITONES
from livecheck.lesson.figure import Bar, Figure, Stance, Step
from livecheck.lesson.listing import listed

FURTHEST_FRETS = 12
FURTHEST_FRETS_ON_ONE_STRING = 2
"""One string alone is no proof of a bar far off: any wrong note would be one."""
DEAREST_PAIR = 3.0
DEAREST_PAIR_ON_ONE_STRING = 2.5
"""Two slips at once must each be likely, or some pair would explain anything."""
FIT_CENTS = 20.0
"""How near an explanation must come to what was heard."""
DEARER_CENTS = 60.0
"""A place between two frets, or between up and down, costs one more per so many cents: a whole fret is likelier."""
LEAST_CENTS = 8.0
"""Less is not worth blaming on anything."""


@dataclass(frozen=True)
class Slip:
    """A stance held instead of the one asked for."""

    words: str
    price: float
    stance: Stance
    fit_cents: float = FIT_CENTS


@dataclass(frozen=True)
class Scene:
    """One step as it was asked, with what was heard on its strings (tuning taken off)."""

    figure: Figure
    step: Step
    heard: Mapping[int, float]
    copedent: Copedent
    earlier_cents: Mapping[int, float] = field(default_factory=dict)
    """How far the same strings were off at their checkpoints before, as far as they rang into this step."""

    @property
    def before(self) -> Stance | None:
        """What was held before the step; None at the first."""
        return self.figure.steps[self.step.number - 2].stance if self.step.number > 1 else None

    def harmonic(self, string: int) -> int | None:
        """Frets above the bar at which the string's last pick was touched."""
        picks = (step for step in reversed(self.figure.steps[: self.step.number]) if string in step.pick)
        return next((step.harmonic for step in picks), None)

    def midi(self, string: int, stance: Stance) -> float:
        """What a string of this step gives in some stance."""
        frets = self.harmonic(string)
        return stance.midi(string, self.copedent) + (HARMONIC_SEMITONES[frets] if frets else 0.0)

    def off_cents(self, string: int, stance: Stance) -> float:
        """How far the string sounded above what the stance gives."""
        return 100.0 * (self.heard[string] - self.midi(string, stance))

    def moved(self, stance: Stance) -> frozenset[int]:
        """The strings heard that a stance would put elsewhere than the step asks."""
        return frozenset(s for s in self.heard if abs(self.midi(s, stance) - self.midi(s, self.step.stance)) > 0.01)


def slips(scene: Scene) -> Iterator[Slip]:
    """Everything that may have gone wrong with bar, pedals, levers and pulls, alone and bar with one other."""
    bar, feet = list(bar_slips(scene)), [*change_slips(scene), *pull_slips(scene)]
    yield from bar
    yield from feet
    dearest = DEAREST_PAIR if len(scene.heard) > 1 else DEAREST_PAIR_ON_ONE_STRING
    for foot in feet:
        for hand in [*bar, *_off_the_fret(scene, foot.stance, scene.heard.keys() - scene.moved(foot.stance))]:
            if hand.price + foot.price <= dearest:
                stance = replace(foot.stance, bar=hand.stance.bar)
                fit_cents = min(hand.fit_cents, foot.fit_cents)
                yield Slip(f"{hand.words}; {foot.words}", hand.price + foot.price, stance, fit_cents)


def bar_slips(scene: Scene) -> Iterator[Slip]:
    step, asked, before = scene.step, scene.step.stance, scene.before
    if before is not None and step.moves_bar:
        still = f"still at {before.bar.frets[0][1]:g}" if before.bar.is_straight else "still slanted"
        words = f"picked with the bar {still}" if step.pick else "bar did not move"
        yield Slip(words, 1.0, replace(asked, bar=before.bar))
    if not asked.bar.is_straight:
        for fret in sorted({fret for _, fret in asked.bar.frets}):
            yield Slip(f"bar straight at {fret:g}, not slanted", 1.5, replace(asked, bar=Bar.straight(fret)))
    reach = FURTHEST_FRETS if len(scene.heard) > 1 else FURTHEST_FRETS_ON_ONE_STRING
    for away in range(1, reach + 1):
        for frets in (-away, away):
            shifted = _shifted(asked.bar, frets)
            if all(fret >= 0.0 for _, fret in shifted.frets):
                yield Slip(_fret_words(asked.bar, frets), 2.0 + 0.4 * (away - 1), replace(asked, bar=shifted))
    yield from _off_the_fret(scene, asked, scene.heard)


def _off_the_fret(scene: Scene, stance: Stance, strings: Iterable[int]) -> Iterator[Slip]:
    """The bar a little flat or sharp of its fret, as some strings agree. Open strings have no bar to blame."""
    offs = [scene.off_cents(string, stance) for string in strings]
    if not offs or not any(fret for _, fret in stance.bar.frets):
        return
    cents = sum(offs) / len(offs)
    frets = cents / 100.0
    whole = round(frets) != 0 and abs(cents - 100.0 * round(frets)) <= FIT_CENTS
    if abs(cents) < LEAST_CENTS or whole or (abs(frets) > 1.0 and len(offs) == 1):
        return
    was_off = any(abs(earlier - cents) <= _about_cents(cents) for earlier in scene.earlier_cents.values())
    price = (1.0 if scene.step.moves_bar or scene.step.pick or was_off else 1.8) + abs(cents) / DEARER_CENTS
    words = f"bar {abs(cents):.0f} cents {'flat' if cents < 0 else 'sharp'}"
    if abs(frets) > 1.0:
        words = f"bar {abs(frets):.1f} frets {'low' if frets < 0 else 'high'}"
    yield Slip(words, price, replace(stance, bar=_shifted(stance.bar, frets)), _about_cents(cents))


def _about_cents(cents: float) -> float:
    """How far strings may differ and still be off "by about the same"."""
    return min(FIT_CENTS, max(6.0, abs(cents) / 4.0))


def _shifted(bar: Bar, frets: float) -> Bar:
    return Bar(tuple((string, fret + frets) for string, fret in bar.frets))


def _fret_words(bar: Bar, frets: int) -> str:
    if bar.is_straight:
        return f"bar at {bar.frets[0][1] + frets:g}, not {bar.frets[0][1]:g}"
    return f"bar {abs(frets)} fret{'s' if abs(frets) > 1 else ''} {'low' if frets < 0 else 'high'}"


def change_slips(scene: Scene) -> Iterator[Slip]:
    """One pedal or lever in another place than asked, or all of them left as they were."""
    asked, was = scene.step.stance, scene.before.down if scene.before else {}
    for name in scene.copedent.changes:
        wanted, held = asked.down.get(name, 0.0), was.get(name, 0.0)
        levels = {0.0, 0.5, 1.0, held} if wanted or held else {1.0}
        for level in sorted(levels - {wanted}):
            words = f"{name} {_level_words(wanted, held, level)}"
            yield Slip(words, _level_price(wanted, held, level), replace(asked, down={**asked.down, name: level}))
        if wanted or held:
            yield from _not_to_the_stop(scene, name, wanted)
    changed = [name for name in {**was, **asked.down} if was.get(name, 0.0) != asked.down.get(name, 0.0)]
    if len(changed) > 1:
        yield Slip(_unmoved_words(changed, asked.down, was), 1.5, replace(asked, down=was))


def _level_words(wanted: float, held: float, level: float) -> str:
    if level == 0.0:
        return "not down"
    if 0.0 < wanted < 1.0 and level == 1.0:
        return "all the way down" if held < 1.0 else "still all the way down"
    if level == held and wanted == 0.0:
        return "still down"
    if level == 0.5:
        return "half down" if wanted else "half released"
    return "down as well" if wanted == 0.0 else "did not move"


def _level_price(wanted: float, held: float, level: float) -> float:
    if level == held:
        return 1.0
    if wanted:
        return 1.5 if level == 0.0 else 2.0
    return 2.0 if held else 3.0


def _not_to_the_stop(scene: Scene, name: str, wanted: float) -> Iterator[Slip]:
    """A pedal or lever a little short of where it should be, or past it, as the strings that it pulls agree."""
    asked = scene.step.stance
    reaches = {s: r for s in scene.heard if (r := scene.copedent.changes[name].get(s, 0.0)) != 0.0}
    if not reaches:
        return
    levels = [wanted + scene.off_cents(s, asked) / 100.0 / reach for s, reach in reaches.items()]
    level = sum(levels) / len(levels)
    cents = 100.0 * (level - wanted) * sum(map(abs, reaches.values())) / len(reaches)
    if not -0.1 < level < 1.3 or abs(cents) < LEAST_CENTS:
        return
    if wanted:
        words = f"{name} {abs(cents):.0f} cents {'short' if cents < 0 else 'too far'}"
    else:
        words = f"{name} not all the way off, {abs(cents):.0f} cents"
    feet_only = scene.step.is_move and not scene.step.moves_bar
    price = (1.5 if feet_only else 2.0) + abs(cents) / DEARER_CENTS
    yield Slip(words, price, replace(asked, down={**asked.down, name: level}), _about_cents(cents))


def _unmoved_words(changed: Sequence[str], asked: Mapping[str, float], was: Mapping[str, float]) -> str:
    names: dict[str, list[str]] = {}
    for name in changed:
        held = was.get(name, 0.0)
        names.setdefault(_level_words(asked.get(name, 0.0), held, held), []).append(name)
    return ", ".join(f"{listed(several)} {words}" for words, several in names.items())


def pull_slips(scene: Scene) -> Iterator[Slip]:
    """A string behind the bar not pulled, still pulled, or pulled by a wrong amount."""
    asked, was = scene.step.stance, scene.before.pull if scene.before else {}
    for string in (asked.pull.keys() | was.keys()) & scene.heard.keys():
        wanted, held = asked.pull.get(string, 0.0), was.get(string, 0.0)
        if wanted:
            yield Slip(f"string {string} not pulled", 1.0, replace(asked, pull={**asked.pull, string: 0.0}))
        if held and held != wanted:
            yield Slip(f"string {string} still pulled", 1.0, replace(asked, pull={**asked.pull, string: held}))
        cents = scene.off_cents(string, asked)
        if wanted and LEAST_CENTS <= abs(cents) < 100.0 * wanted:
            words = f"string {string} pulled {abs(cents):.0f} cents {'short' if cents < 0 else 'too far'}"
            yield Slip(words, 1.5, replace(asked, pull={**asked.pull, string: wanted + cents / 100.0}))
