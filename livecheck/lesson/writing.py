"""From a copedent or a lesson to the text of its file, which `livecheck.lesson.reading` reads back.

Cents are written to a tenth, changes to a thousandth of a semitone. Of a lesson nothing is written that goes without
saying: a step has only what is new in it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Bar, Figure, Lesson, Stance, Step
from livecheck.lesson.pitch import name_of
from livecheck.lesson.reading import DEFAULT_OVER


def copedent_text(copedent: Copedent, comment: str) -> str:
    """TOML. `comment` is one line on what this file is."""
    names = ", ".join(_quoted(name_of(midi)) for midi in copedent.strings)
    cents = ", ".join(f"{100.0 * (midi - round(midi)):.1f}" for midi in copedent.strings)
    lines = [f"# {comment}", "format = 1", f"name = {_quoted(copedent.name)}"]
    lines += [f"measured = {copedent.measured.isoformat()}"] if copedent.measured is not None else []
    lines += [f"strings = [{names}]", f"string_cents = [{cents}]"]
    if copedent.drops:
        fallen = ", ".join(f"{_quoted(name)} = {100.0 * drop:.1f}" for name, drop in copedent.drops.items())
        lines.append(f"drop_cents = {{ {fallen} }}")
    pairs = {"+".join(sorted(pair)): pulls for pair, pulls in copedent.pairs.items()}
    tables = {**copedent.changes, **pairs}
    if tables:
        lines += ["", "[changes]", *(f"{_quoted(name)} = {_pulls(pulls)}" for name, pulls in tables.items())]
    return "\n".join(lines) + "\n"


def lesson_text(lesson: Lesson, comment: str = "") -> str:
    """TOML as a teacher writes it, a step a line. `comment` is what this file is; it may have several lines."""
    lines = [f"# {line}".rstrip() for line in comment.splitlines()]
    lines += ["format   = 1", f"title    = {_quoted(lesson.title)}", f"tempo    = {_number(lesson.tempo)}"]
    lines += [f"meter    = {_quoted(lesson.meter)}"] if lesson.meter != "4/4" else []
    lines += [f"copedent = {_quoted(lesson.copedent_name)}"]
    lines += [f"tolerances = {_quoted(lesson.tolerances)}"] if lesson.tolerances != "standard" else []
    lines += [f"backing  = {_quoted(lesson.backing)}"] if lesson.backing is not None else []
    lines += [f"reference = {_number(lesson.reference_hz)}"] if lesson.reference_hz is not None else []
    return "\n".join([*lines, *(line for figure in lesson.figures for line in _figure(figure))]) + "\n"


def _figure(figure: Figure) -> Iterator[str]:
    yield from ("", "[[figure]]", f"name   = {_quoted(figure.name)}", f"length = {_beat(figure.length)}")
    if figure.backing_s is not None:
        yield f"backing_at = {_number(figure.backing_s)}"
    yield "steps  = ["
    before: Stance | None = None
    for step in figure.steps:
        yield f"  {{ {', '.join(_step(step, before))} }},"
        before = step.stance
    yield "]"


def _step(step: Step, before: Stance | None) -> Iterator[str]:
    stance = step.stance
    yield f"beat = {_beat(step.beat)}"
    if before is None or stance.bar != before.bar:
        yield _bar(stance.bar)
    if stance.down != ({} if before is None else before.down):
        yield f"down = {_down(stance.down)}"
    if stance.pull != ({} if before is None else before.pull):
        yield f"pull = {_table(stance.pull)}"
    if step.pick:
        yield f"pick = {_list(step.pick)}"
    if step.keeps is None or step.keeps:
        yield f"ring = {'true' if step.keeps is None else _list(sorted(step.keeps))}"
    if step.roll:
        yield f"roll = {_beat(step.roll)}"
    if step.harmonic is not None:
        yield f"harmonic = {step.harmonic}"
    if step.swell:
        yield "swell = true"
    if (step.moves_bar or step.moves_changes) and step.over != DEFAULT_OVER:
        yield f"over = {_beat(step.over)}"
    if step.block is None or step.block:
        yield f"block = {_quoted('all') if step.block is None else _list(sorted(step.block))}"
    if step.vibrato:
        yield "vibrato = true"
    if step.remark:
        yield f"remark = {_quoted(step.remark)}"


def _bar(bar: Bar) -> str:
    return f"fret = {_number(bar.frets[0][1])}" if bar.is_straight else f"slant = {_table(dict(bar.frets))}"


def _down(down: Mapping[str, float]) -> str:
    if all(amount == 1.0 for amount in down.values()):
        return _list(map(_quoted, down))
    return "{ " + ", ".join(f"{_key(name)} = {_number(amount)}" for name, amount in down.items()) + " }"


def _key(name: str) -> str:
    """Bare where TOML lets it be."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _quoted(name)


def _table(values: Mapping[int, float]) -> str:
    return "{ " + ", ".join(f"{key} = {_number(value)}" for key, value in values.items()) + " }"


def _list(items: Iterable[object]) -> str:
    return f"[{', '.join(map(str, items))}]"


def _number(value: float) -> str:
    return str(int(value)) if value == int(value) else repr(float(value))


def _beat(beat: Fraction) -> str:
    """4, 4.5 or "4 1/3", whichever says it exactly and shortest."""
    whole, rest = divmod(beat, 1)
    if rest == 0:
        return str(whole)
    if 1000 % beat.denominator == 0:
        return repr(float(beat))
    return _quoted(f"{whole} {rest}" if whole else str(rest))


def _pulls(pulls: Mapping[int, float]) -> str:
    return "{ " + ", ".join(f"{string} = {semitones:.3f}" for string, semitones in sorted(pulls.items())) + " }"


def _quoted(text: str) -> str:
    """A basic string (TOML 1.0.0): quotes, backslashes and control characters are escaped."""
    escaped = "".join(
        f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else f"\\{c}" if c in '"\\' else c for c in text
    )
    return f'"{escaped}"'
