"""A lesson and its copedent as TOML text, written in one of the many ways in which the same can be written."""

from __future__ import annotations

import json
from collections.abc import Mapping
from fractions import Fraction
from random import Random
from typing import Any

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Bar, Lesson, Stance, Step
from livecheck.lesson.pitch import name_of

Document = dict[str, Any]


def toml(value: object) -> str:
    """One value, on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)  # a TOML basic string takes JSON's escapes
    if isinstance(value, Mapping):
        pairs = (f"{json.dumps(str(key), ensure_ascii=False)} = {toml(item)}" for key, item in value.items())
        return f"{{ {', '.join(pairs)} }}"
    if isinstance(value, list):
        return f"[{', '.join(map(toml, value))}]"
    return repr(value)


def copedent_text(copedent: Copedent) -> str:
    """A copedent's file; each string is named by the nearest pitch, the rest is cents."""
    names = [name_of(midi) for midi in copedent.strings]
    cents = [round((midi - round(midi)) * 100.0, 6) for midi in copedent.strings]
    changes: dict[str, object] = dict(copedent.changes)
    changes.update({"+".join(sorted(pair)): pulls for pair, pulls in copedent.pairs.items()})
    lines = ["format = 1", f"name = {toml(copedent.name)}", f"strings = {toml(names)}", f"string_cents = {toml(cents)}"]
    return "\n".join([*lines, f"changes = {toml(changes)}", ""])


def lesson_text(lesson: Lesson, rng: Random) -> str:
    """A lesson's file; `rng` chooses among spellings, and leaves out what may be left out."""
    return text_of(document(lesson, rng))


def text_of(document: Document) -> str:
    """A lesson's tables as text: figures as [[figure]], a step a line."""
    lines = [f"{key} = {toml(value)}" for key, value in document.items() if key != "figure"]
    for figure in document["figure"]:
        lines += ["[[figure]]", *(f"{key} = {toml(value)}" for key, value in figure.items() if key != "steps")]
        lines += ["steps = [", *(f"  {toml(step)}," for step in figure["steps"]), "]"]
    return "\n".join([*lines, ""])


def document(lesson: Lesson, rng: Random) -> Document:
    """A lesson's tables as they are written."""
    figures = []
    for figure in lesson.figures:
        stances = [None, *(step.stance for step in figure.steps)]
        steps = [_step(step, before, rng) for step, before in zip(figure.steps, stances, strict=False)]
        figures.append({"name": figure.name, "length": _beat(figure.length, rng), "steps": steps})
    return {
        "format": 1,
        "title": lesson.title,
        "tempo": lesson.tempo,
        "meter": lesson.meter,
        "copedent": lesson.copedent_name,
        "tolerances": lesson.tolerances,
        "reference": "take" if lesson.reference_hz is None else lesson.reference_hz,
        "figure": figures,
    }


def _beat(beat: Fraction, rng: Random) -> int | float | str:
    whole, rest = divmod(beat, 1)
    if not rest and rng.random() < 0.5:
        return int(whole)
    mixed = f"{whole} {rest}" if rest else f"{whole} 0/1"
    return rng.choice((float(beat), f"{beat.numerator}/{beat.denominator}", f" {mixed} "))


def _step(step: Step, before: Stance | None, rng: Random) -> dict[str, object]:
    """The keys of a step; what stays as it was is left out or said again."""
    now, written = step.stance, dict[str, object](beat=_beat(step.beat, rng))
    if before is None or now.bar != before.bar or rng.random() < 0.3:
        written.update(_bar(now.bar))
    if now.down != ({} if before is None else before.down) or rng.random() < 0.3:
        all_down = set(now.down.values()) <= {1.0}
        written["down"] = list(now.down) if all_down and rng.random() < 0.5 else dict(now.down)
    if now.pull != ({} if before is None else before.pull) or rng.random() < 0.3:
        written["pull"] = dict(now.pull)
    if step.moves_bar or step.moves_changes:
        written["over"] = _beat(step.over, rng)
    if step.pick:
        written["pick"] = list(step.pick)
        written["ring"] = True if step.keeps is None else sorted(step.keeps)
        written["roll"] = _beat(step.roll, rng)
        written["swell"] = step.swell
    if step.harmonic is not None:
        written["harmonic"] = step.harmonic
    if step.block != frozenset():
        written["block"] = "all" if step.block is None else sorted(step.block)
    written["vibrato"] = step.vibrato
    if step.remark:
        written["remark"] = step.remark
    return written


def _bar(bar: Bar) -> dict[str, object]:
    return {"fret": bar.frets[0][1]} if bar.is_straight else {"slant": dict(bar.frets)}
