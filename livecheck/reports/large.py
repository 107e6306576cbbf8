"""A few words in letters five lines high, to be read from behind the instrument.

In: text. Out: lines as wide as told. Letters are five columns wide and one apart; accents are left out, and what has no
letter here is a question mark. Where a terminal has no blocks they are drawn with #.
"""

from __future__ import annotations

import textwrap
import unicodedata
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

LETTER_COLUMNS = 6
"""A letter and what parts it from the next."""
_LETTERS = {
    "A": ".###. #...# ##### #...# #...#",
    "B": "####. #...# ####. #...# ####.",
    "C": ".#### #.... #.... #.... .####",
    "D": "####. #...# #...# #...# ####.",
    "E": "##### #.... ####. #.... #####",
    "F": "##### #.... ####. #.... #....",
    "G": ".#### #.... #..## #...# .####",
    "H": "#...# #...# ##### #...# #...#",
    "I": ".###. ..#.. ..#.. ..#.. .###.",
    "J": "..### ...#. ...#. #..#. .##..",
    "K": "#...# #..#. ###.. #..#. #...#",
    "L": "#.... #.... #.... #.... #####",
    "M": "#...# ##.## #.#.# #...# #...#",
    "N": "#...# ##..# #.#.# #..## #...#",
    "O": ".###. #...# #...# #...# .###.",
    "P": "####. #...# ####. #.... #....",
    "Q": ".###. #...# #.#.# #..#. .##.#",
    "R": "####. #...# ####. #..#. #...#",
    "S": ".#### #.... .###. ....# ####.",
    "T": "##### ..#.. ..#.. ..#.. ..#..",
    "U": "#...# #...# #...# #...# .###.",
    "V": "#...# #...# #...# .#.#. ..#..",
    "W": "#...# #...# #.#.# ##.## #...#",
    "X": "#...# .#.#. ..#.. .#.#. #...#",
    "Y": "#...# .#.#. ..#.. ..#.. ..#..",
    "Z": "##### ...#. ..#.. .#... #####",
    "0": ".###. #..## #.#.# ##..# .###.",
    "1": "..#.. .##.. ..#.. ..#.. .###.",
    "2": "####. ....# .###. #.... #####",
    "3": "####. ....# .###. ....# ####.",
    "4": "#..#. #..#. ##### ...#. ...#.",
    "5": "##### #.... ####. ....# ####.",
    "6": ".###. #.... ####. #...# .###.",
    "7": "##### ....# ...#. ..#.. ..#..",
    "8": ".###. #...# .###. #...# .###.",
    "9": ".###. #...# .#### ....# .###.",
    "#": ".#.#. ##### .#.#. ##### .#.#.",
    "-": "..... ..... .###. ..... .....",
    "+": "..... ..#.. .###. ..#.. .....",
    ".": "..... ..... ..... ..... ..#..",
    ",": "..... ..... ..... ..#.. .#...",
    ":": "..... ..#.. ..... ..#.. .....",
    "/": "....# ...#. ..#.. .#... #....",
    "?": "####. ....# ..##. ..... ..#..",
    " ": "..... ..... ..... ..... .....",
}


@dataclass(frozen=True)
class Large:
    text: str

    def __rich_console__(self, _: Console, options: ConsoleOptions) -> RenderResult:
        letters = max(options.max_width // LETTER_COLUMNS, 1)
        ink = "#" if options.ascii_only else "█"
        for line in textwrap.wrap(_spelled(self.text), letters):
            drawn = [_LETTERS[letter].split() for letter in line]
            for row in zip(*drawn, strict=True):
                yield Text(" ".join(row).replace("#", ink).replace(".", " ").rstrip(), no_wrap=True)
            yield Text()


def _spelled(text: str) -> str:
    """The text in letters that there are."""
    bare = [c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c)]
    return "".join(c if c in _LETTERS else "?" for c in "".join(bare).upper())
