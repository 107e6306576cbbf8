"""Words for what a lesson asks and what was heard, as a player says them.

In: values. Out: short pieces of a sentence, without control characters.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

from livecheck.lesson.beat import beat_text
from livecheck.lesson.figure import Bar, Figure, Stance
from livecheck.lesson.listing import listed
from livecheck.lesson.pitch import name_of

_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def plain(text: str) -> str:
    """A text from outside, fit for a terminal: no control or format characters, one blank for any white space."""
    spaced = "".join(" " if character.isspace() else character for character in text)
    return " ".join("".join(c for c in spaced if not unicodedata.category(c).startswith("C")).split())


def counted(count: int, noun: str) -> str:
    """1 mistake, 2 mistakes."""
    return f"{count} {noun}{'' if count == 1 else 's'}"


def numbered(noun: str, numbers: Iterable[int]) -> str:
    """string 5, strings 5 and 8."""
    ordered = sorted(set(numbers))
    return f"{noun}{'' if len(ordered) == 1 else 's'} {listed([str(number) for number in ordered])}"


def times_text(attempt: int) -> str:
    """first time, second time, 11. time."""
    return f"{_ORDINALS[attempt - 1] if attempt <= len(_ORDINALS) else f'{attempt}.'} time"


def ms_text(ms: float) -> str:
    """Milliseconds as exactly as they matter: to 10 from 100 on, to 5 below."""
    size = abs(ms)
    return f"{round(size / 10) * 10 if size >= 97.5 else round(size / 5) * 5} ms"


def pitch_text(midi: float) -> str:
    """A pitch with the cents by which it lies off its name, where that is half a cent or more: B3, G#3-14."""
    cents = round(100.0 * (midi - round(midi)))
    return name_of(midi) + (f"{cents:+d}" if cents else "")


def fret_text(fret: float) -> str:
    return f"{fret:.2f}".rstrip("0").rstrip(".")


def near_name(midi: float) -> str:
    """The name of a pitch, with cents only where the name alone would mislead."""
    cents = round(100.0 * (midi - round(midi)))
    return f"{name_of(midi)} {cents:+d} cents" if abs(cents) > 30 else name_of(midi)


def step_text(figure: Figure, number: int) -> str:
    """What a step asks: beat 5, pick 3 and 4 at fret 7 with B."""
    step, before = figure.steps[number - 1], stance_before(figure, number)
    asked: list[str] = []
    if step.pick:
        down = [_held(name, amount) for name, amount in step.stance.down.items()]
        held = f" with {listed(down)}" if down else ""
        asked.append(
            f"{'roll' if step.roll else 'pick'} {listed([str(s) for s in step.pick])} {_place(step.stance.bar)}{held}"
        )
    else:
        asked.extend([f"bar from {_bar(before.bar)} to {_bar(step.stance.bar)}"] if step.moves_bar else [])
        asked.extend(feet_texts(before, step.stance))
    if step.block is None or step.block:
        asked.append("block all" if step.block is None else f"block {listed([str(s) for s in sorted(step.block)])}")
    return f"beat {beat_text(step.beat)}, {listed(asked)}" if asked else f"beat {beat_text(step.beat)}"


def stance_before(figure: Figure, number: int) -> Stance:
    """What is held when a step begins; at the first step, what it asks itself."""
    return figure.steps[max(number - 2, 0)].stance


def feet_texts(before: Stance, after: Stance) -> list[str]:
    """What pedals, levers and pulls do from one stance to the next: B down, LKR off, A half down."""
    texts = [
        f"{plain(name)} {_level(after.down.get(name, 0.0))}"
        for name in [*before.down, *(name for name in after.down if name not in before.down)]
        if before.down.get(name, 0.0) != after.down.get(name, 0.0)
    ]
    pulled = sorted(before.pull.keys() | after.pull.keys())
    changed = [string for string in pulled if before.pull.get(string, 0.0) != after.pull.get(string, 0.0)]
    return texts + [f"string {s} {'pulled' if s in after.pull else 'let go'}" for s in changed]


def _held(name: str, amount: float) -> str:
    return f"{'' if amount == 1.0 else 'half ' if amount == 0.5 else f'{amount:g} of '}{plain(name)}"


def _level(amount: float) -> str:
    return (
        "off" if amount == 0.0 else "down" if amount == 1.0 else "half down" if amount == 0.5 else f"down to {amount:g}"
    )


def _place(bar: Bar) -> str:
    if not bar.is_straight:
        return "with the bar slanted"
    return f"at fret {_bar(bar)}" if bar.frets[0][1] else "open"


def _bar(bar: Bar) -> str:
    return fret_text(bar.frets[0][1]) if bar.is_straight else "the slant"
