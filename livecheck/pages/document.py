"""A whole HTML document that needs nothing else: its style and its script are in it, and nothing beside them may run.

A Content Security Policy (W3C, level 3) in a meta element names the hashes of just that style and that script; sound
comes from data URLs. There is no address in the page that a browser would fetch.
"""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib.resources import files

from livecheck.pages.markup import Content, Markup, element, joined


def document(title: str, *body: Content, scripts: tuple[str, ...] = ()) -> str:
    """The document. `scripts`: names of the scripts of this package that it needs."""
    style = _file("look.css")
    codes = [_file(name) for name in scripts]
    allowed = " ".join(map(_hash, codes)) or "'none'"
    policy = (
        f"default-src 'none'; style-src {_hash(style)}; script-src {allowed}; media-src data:; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    head = element(
        "head",
        element("meta", charset="utf-8"),
        _policy(policy),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="color-scheme", content="light dark"),
        element("meta", name="referrer", content="no-referrer"),
        element("link", rel="icon", href="data:,"),
        element("title", title),
        element("style", Markup(style)),
    )
    whole = element("html", head, element("body", *body, *(element("script", Markup(c)) for c in codes)), lang="en")
    return f"<!DOCTYPE html>\n{whole}\n"


def _policy(policy: str) -> Markup:
    return element("meta", **{"http-equiv": "Content-Security-Policy", "content": policy})


@cache
def _file(name: str) -> str:
    return (files("livecheck.pages") / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode('ascii')}'"


def table(caption: str, heads: tuple[str, ...], rows: list[tuple[Content, ...]], **attributes: str) -> Markup:
    """A table with its first column as heads of the rows, in a region that scrolls where it is too wide."""
    head = element("tr", *(element("th", text, scope="col") for text in heads))
    lines = [
        element("tr", element("th", row[0], scope="row"), *(element("td", cell) for cell in row[1:])) for row in rows
    ]
    whole = element(
        "table",
        element("caption", caption),
        element("thead", head),
        element("tbody", *lines),
        **attributes,
    )
    return element("div", whole, class_="wide", tabindex="0", role="region", aria_label=caption)


def listed_items(items: list[Content], ordered: bool = False) -> Markup:
    """A list, or nothing where there are no items."""
    return element("ol" if ordered else "ul", *(element("li", item) for item in items)) if items else joined(())
