"""What is wrong with a file's tables, in words: from a validation error and the file's data to half a sentence.

`msgspec` says where by a path (`$.figure[0].steps[1].pick[0]`, `$.changes[...]` for whatever key of a table) and what
by the names of types. The player gets the figure's name, the step's number, the key, what stands there and what was
wanted.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches

import msgspec

from livecheck.lesson.document import FigureFile, StepFile

Key = int | str

_MESSAGE = re.compile(r"(?P<said>.*?)(?: - at `(?P<in_key>key` in `)?\$(?P<path>.*)`)?", re.DOTALL)
_PART = re.compile(r"\.(?P<name>\w+)|\[(?P<index>\d+)\]|\[(?P<any>\.\.\.)\]")
_TYPES = re.compile(r"Expected `(?P<wanted>.+)`, got `(?P<got>.+)`")
_UNKNOWN = re.compile(r"Object contains unknown field `(?P<key>.*)`", re.DOTALL)
_MISSING = re.compile(r"Object missing required field `(?P<key>.*)`")

_WORDS = {
    "int": "a whole number",
    "float": "a number",
    "str": "text in quotes",
    "bool": "true or false",
    "array": "a list in [ ]",
    "object": "a table in { }",
}
_BEATS = 'a number, or text such as "9/2" or "4 1/2"'
_CHOICES = {
    "format": "1",
    "figure": "tables that begin with [[figure]]",
    "changes": "a table such as P = { 1 = 2 }",
    "drop_cents": "a table such as { P = 3.1 }",
    "measured": "a day such as 2026-11-25",
    "block": 'a list of strings, or "all"',
    "reference": '"take", or the frequency of A4 in Hz',
    "harmonic": "5, 7 or 12 (frets above the bar)",
    "down": "a list of pedals and levers in quotes, or a table such as { A = 0.5 }",
    "ring": "true, false or a list of strings",
    "beat": _BEATS,
    "length": _BEATS,
    "over": _BEATS,
    "roll": _BEATS,
}
"""What a key takes, where the names of types do not say it well."""
_LONGEST_SHOWN = 40


def complaint(error: msgspec.ValidationError, data: object, kind: type[msgspec.Struct]) -> str:
    """Where, what stands there, what was wanted. `data` is the parsed file, `kind` the struct that it should fit."""
    match = _MESSAGE.fullmatch(str(error))
    said, path = (match["said"], match["path"] or "") if match else (str(error), "")
    parts = [_part(part) for part in _PART.finditer(path)]
    types = _TYPES.fullmatch(said)
    if match and match["in_key"]:
        keys = _resolve(data, parts, "object", with_odd_key=True)
        table = _at(data, keys)
        odd = next((key for key in table if not _is_number(key)), "") if isinstance(table, Mapping) else ""
        return _sentence(data, keys, f"has the key {_shown(odd)}; wanted the number of a string")
    keys = _resolve(data, parts, types["got"] if types else "")
    if (unknown := _UNKNOWN.fullmatch(said)) is not None:
        wanted = _instead(unknown["key"], keys, kind)
        return _sentence(data, keys, f"unknown key {_shown(unknown['key'])}; wanted {wanted}")
    if (missing := _MISSING.fullmatch(said)) is not None:
        choices = _CHOICES.get(missing["key"])
        return _sentence(data, keys, f'lacks the key "{missing["key"]}"{f"; wanted {choices}" if choices else ""}')
    wanted = _wanted(keys, types["wanted"] if types else said)
    return _sentence(data, keys, f"is {_shown(_at(data, keys))}; wanted {wanted}")


def _part(match: re.Match[str]) -> Key | None:
    """A step of a path; None is some key of a table."""
    return int(match["index"]) if match["index"] else match["name"]


def _resolve(data: object, parts: Sequence[Key | None], got: str, with_odd_key: bool = False) -> list[Key]:
    """The path with its unnamed keys filled in: the first that lead to a value of the type that was complained of."""
    return next(_ways(data, parts, got, with_odd_key), [part for part in parts if part is not None])


def _ways(data: object, parts: Sequence[Key | None], got: str, with_odd_key: bool) -> Iterator[list[Key]]:
    if not parts:
        odd = isinstance(data, Mapping) and not all(_is_number(key) for key in data)
        if odd if with_odd_key else got in ("", _type_name(data)):
            yield []
        return
    first, rest = parts[0], parts[1:]
    for key in [first] if first is not None else list(data) if isinstance(data, Mapping) else []:
        for way in _ways(_at(data, [key]), rest, got, with_odd_key):
            yield [key, *way]


def _at(data: object, keys: Sequence[Key]) -> object:
    for key in keys:
        if isinstance(data, Mapping):
            data = data.get(key)
        elif isinstance(data, Sequence) and isinstance(key, int) and key < len(data):
            data = data[key]
    return data


def _type_name(value: object) -> str:
    if isinstance(value, Mapping):
        return "object"
    return "array" if isinstance(value, list) else type(value).__name__


def _is_number(key: object) -> bool:
    return isinstance(key, str) and re.fullmatch(r"-?(0|[1-9][0-9]*)", key) is not None


def _sentence(data: object, keys: Sequence[Key], what: str) -> str:
    """The place, then what is said of it: `figure "1", step 2: fret is "3"; …`."""
    place: list[str] = []
    rest = list(keys)
    if rest[:1] == ["figure"] and len(rest) > 1:
        name = _at(data, [*rest[:2], "name"])
        place.append(f'figure "{name}"' if isinstance(name, str) else f"figure number {int(rest[1]) + 1}")
        rest = rest[2:]
    if rest[:1] == ["steps"] and len(rest) > 1:
        place.append(f"step {int(rest[1]) + 1}")
        rest = rest[2:]
    about = ", ".join(f"value {key + 1}" if isinstance(key, int) else key for key in rest)
    return f"{', '.join(place)}{': ' if place else ''}{about}{' ' if about else ''}{what}"


def _shown(value: object) -> str:
    if isinstance(value, Mapping | list):
        return "a table" if isinstance(value, Mapping) else "a list"
    if isinstance(value, bool):
        return str(value).lower()
    text = str(value)
    text = text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…"
    return f'"{text}"' if isinstance(value, str) else text


def _wanted(keys: Sequence[Key], types: str) -> str:
    if keys and keys[-1] in _CHOICES:
        return _CHOICES[str(keys[-1])]
    names = [name for name in types.split(" | ") if name != "null"]
    if all(name in _WORDS for name in names):
        return " or ".join(_WORDS[name] for name in names)
    return "a number in range" if "out of range" in types else f"something else ({types[:1].lower()}{types[1:]})"


def _instead(key: str, keys: Sequence[Key], kind: type[msgspec.Struct]) -> str:
    """What could have been meant by an unknown key."""
    table = StepFile if "steps" in keys else FigureFile if "figure" in keys else kind
    known = table.__struct_fields__
    near = get_close_matches(key, known, n=1)
    return f'"{near[0]}"?' if near else ", ".join(known)
