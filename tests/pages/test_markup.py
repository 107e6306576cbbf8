"""Nothing in a name becomes markup: whatever is put in is read back as text by Python's own HTML parser."""

from __future__ import annotations

from html.parser import HTMLParser

from hypothesis import given
from hypothesis import strategies as st

from livecheck.pages.markup import Markup, element, escaped, joined, number

HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' onload='alert(1)",
    "</title><script>alert(1)</script>",
    "]]><!--",
    "&lt;b&gt;",
    "javascript:alert(1)",
]


class Read(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


def read(markup: str) -> Read:
    reader = Read()
    reader.feed(markup)
    reader.close()
    return reader


def test_hostile_text_stays_text() -> None:
    for text in HOSTILE:
        got = read(element("p", text, title=text))
        assert [tag for tag, _ in got.tags] == ["p"]
        assert (got.text, got.tags[0][1]) == (text, {"title": text})


@given(st.text(st.characters(exclude_categories=["C", "Z"])))
def test_any_text_is_read_back_as_it_was(text: str) -> None:
    got = read(element("p", text, title=text))
    assert [tag for tag, _ in got.tags] == ["p"]
    assert (got.text, got.tags[0][1]["title"]) == (text, text)


@given(st.text())
def test_no_text_makes_a_tag_or_leaves_an_attribute(text: str) -> None:
    assert not set("<>\"'") & set(escaped(text))
    escaped(text).encode("utf-8")


def test_what_turns_the_text_around_is_left_out() -> None:
    """U+202E: a name that ends in gnp.exe would read exe.png."""
    assert escaped("take\u202egnp.exe\x00\ud800") == "takegnp.exe"


def test_attributes_and_void_elements() -> None:
    assert element("meta", charset="utf-8") == '<meta charset="utf-8">'
    assert element("line", stroke_width=1.50, x1=-0.001, hidden=None) == '<line stroke-width="1.5" x1="0"></line>'
    assert element("audio", "x", controls=True, class_="a") == '<audio controls class="a">x</audio>'
    assert joined([element("b", "1"), "<", None, Markup("<i>")]) == "<b>1</b>&lt;<i>"
    assert [number(value) for value in (1.0, 10.0, 0.126, -0.001)] == ["1", "10", "0.13", "0"]
