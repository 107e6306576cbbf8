"""HTML and SVG elements as text; whatever is not markup already is escaped.

In: names, attributes and contents. Out: `Markup`. Characters that no HTML document may hold (controls, surrogates,
non-characters; HTML Living Standard, "Preprocessing the input stream") are left out, and so are those that turn the
direction of the text around them.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable

_UNFIT = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff\u202a-\u202e\u2066-\u2069]")
_VOID = frozenset({"br", "col", "input", "link", "meta"})


class Markup(str):
    """Text that is markup already."""

    __slots__ = ()


Content = str | None
"""A `Markup` as it is, any other text escaped, None nothing."""


def element(name: str, /, *contents: Content, **attributes: str | float | bool | None) -> Markup:
    """An element. Attributes: `class_` is class, `stroke_width` is stroke-width, True has no value, None and False are
    left out; numbers have two decimals at most."""
    head = f"<{name}{''.join(_attribute(key, value) for key, value in attributes.items())}>"
    return Markup(head if name in _VOID else f"{head}{joined(contents)}</{name}>")


def joined(contents: Iterable[Content]) -> Markup:
    """Contents one after the other."""
    return Markup("".join(c if isinstance(c, Markup) else escaped(c) for c in contents if c is not None))


def escaped(text: str) -> str:
    """Text that can stand anywhere in a document, in an attribute too."""
    return html.escape(_UNFIT.sub("", text))


def number(value: float) -> str:
    """A number as short as it can be written with two decimals."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _attribute(key: str, value: str | float | bool | None) -> str:
    name = key.rstrip("_").replace("_", "-")
    if value is None or value is False:
        return ""
    if value is True:
        return f" {name}"
    return f' {name}="{escaped(value) if isinstance(value, str) else number(value)}"'
