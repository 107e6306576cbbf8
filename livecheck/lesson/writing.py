"""From a copedent to the text of its file, which `livecheck.lesson.reading` reads back.

Cents are written to a tenth, changes to a thousandth of a semitone.
"""

from __future__ import annotations

from collections.abc import Mapping

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.pitch import name_of


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


def _pulls(pulls: Mapping[int, float]) -> str:
    return "{ " + ", ".join(f"{string} = {semitones:.3f}" for string, semitones in sorted(pulls.items())) + " }"


def _quoted(text: str) -> str:
    """A basic string (TOML 1.0.0): quotes, backslashes and control characters are escaped."""
    escaped = "".join(
        f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else f"\\{c}" if c in '"\\' else c for c in text
    )
    return f'"{escaped}"'
