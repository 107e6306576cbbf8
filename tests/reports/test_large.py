"""Large letters: all different, as wide as told, the same without blocks."""

from __future__ import annotations

import io
import string

import pytest
from rich.console import Console

from livecheck.reports.large import LETTER_COLUMNS, Large


def rendered(text: str, width: int = 80, encoding: str = "utf-8") -> list[str]:
    stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    Console(file=stream, width=width, force_terminal=False).print(Large(text))
    stream.seek(0)
    return stream.read().split("\n")[:-1]


def test_a_word_is_five_lines_high() -> None:
    assert rendered("Ab") == [
        " ███  ████",
        "█   █ █   █",
        "█████ ████",
        "█   █ █   █",
        "█   █ ████",
        "",
    ]


def test_a_terminal_without_blocks() -> None:
    assert rendered("l", encoding="ascii") == ["#", "#", "#", "#", "#####", ""]


def test_no_two_letters_look_alike() -> None:
    letters = string.ascii_uppercase + string.digits + "#-+.,:/"
    assert len({tuple(rendered(letter)) for letter in letters}) == len(letters)


def test_case_and_accents_make_no_difference_and_the_unknown_is_a_question() -> None:
    assert rendered("é") == rendered("E")
    assert rendered("♭") == rendered("?")
    assert rendered("[b]") == rendered("?b?")


@pytest.mark.parametrize("width", [6, 18, 29, 80])
def test_it_is_never_wider_than_told(width: int) -> None:
    lines = rendered("12 mistakes", width)
    assert max(map(len, lines)) <= width
    words = len(lines) // 6
    assert words == {6: 10, 18: 4, 29: 3, 80: 1}[width]
    assert LETTER_COLUMNS * len("12 mistakes") <= 80


def test_nothing_is_nothing() -> None:
    assert rendered("") == []
