"""A copedent from its text, and every mistake in one as one sentence."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.errors import Unusable
from livecheck.lesson.reading import read_copedent

OPEN = 'format = 1\nstrings = ["B4", "G#4", "E4"]\n'


def test_a_whole_copedent() -> None:
    steel = read_copedent(
        'format = 1\nname = "Three strings"\nstrings = ["B4", "G#4", "E4"]\nstring_cents = [2.0, -13.7, 0]\n'
        '[changes]\nP = { 1 = 2 }\nL = { 1 = -1, 3 = -1 }\n"L+P" = { 1 = 0.96 }\n',
        "three.toml",
    )
    assert steel.name == "Three strings"
    assert steel.strings == pytest.approx((71.02, 67.863, 64.0))
    assert steel.changes == {"P": {1: 2.0}, "L": {1: -1.0, 3: -1.0}}
    assert steel.pairs == {frozenset("LP"): {1: 0.96}}
    assert steel.shift(1, {"L": 1.0, "P": 1.0}) == pytest.approx(0.96)


def test_a_lap_steel_has_no_changes() -> None:
    lap = read_copedent('format = 1\nstrings = ["D4", "B3"]\n', "lap.toml")
    assert (lap.strings, lap.changes, lap.pairs, lap.name) == ((62.0, 59.0), {}, {}, "lap.toml")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("strings = E4", "not TOML: Invalid value (at line 1, column 11)"),
        ('strings = ["E4"]', 'lacks the key "format"; wanted 1'),
        ("format = 1", 'lacks the key "strings"'),
        ("format = 1\nstrings = []", 'strings is empty; wanted at least one pitch such as "E4"'),
        ('format = 1\nstrings = "E4"', 'strings is "E4"; wanted a list in [ ]'),
        ("format = 1\nstrings = [64]", "strings, value 1 is 64; wanted text in quotes"),
        ('format = 1\nstrings = ["H4"]', 'strings: "H4" is no pitch; wanted a note name and octave such as "G#4"'),
        ('format = 1\nstrings = ["G#9"]', 'strings: "G#9" lies outside the MIDI notes 0 to 127 (C-1 to G9)'),
        (
            OPEN + "color = 1",
            'unknown key "color"; wanted format, strings, name, string_cents, changes, drop_cents, measured',
        ),
        (OPEN + "drop_cents = { P = 3 }", 'drop_cents names "P"; the copedent has no pedals or levers'),
        (
            OPEN + "drop_cents = { P = nan }\n[changes]\nP = { 1 = 2 }",
            'drop_cents of "P" is nan; wanted cents, at most 100',
        ),
        (OPEN + "drop_cents = 3", "drop_cents is 3; wanted a table such as { P = 3.1 }"),
        (OPEN + "measured = 3", "measured is 3; wanted a day such as 2026-11-25"),
        (OPEN + 'measured = "today"', 'measured is "today"; wanted a day such as 2026-11-25'),
        (OPEN + "string_cents = [1, 2]", "string_cents has 2 values; wanted 3, one for each string"),
        (
            OPEN + "string_cents = [1, 2, nan]",
            "string_cents holds a value that is not within 100 cents of the named pitch",
        ),
        (
            OPEN + "string_cents = [1, 2, 300]",
            "string_cents holds a value that is not within 100 cents of the named pitch",
        ),
        (OPEN + 'string_cents = [1, 2, "3"]', 'string_cents, value 3 is "3"; wanted a number'),
        (OPEN + "changes = []", "changes is a list; wanted a table such as P = { 1 = 2 }"),
        (OPEN + "[changes]\nP = { 1 = 2 }\nQ = 2", "changes, Q is 2; wanted a table in { }"),
        (OPEN + "[changes]\nP = { B4 = 2 }", 'changes, P has the key "B4"; wanted the number of a string'),
        (OPEN + '[changes]\nP = { 1 = 2 }\nQ = { 1 = 1, 2 = "2" }', 'changes, Q, 2 is "2"; wanted a number'),
        (OPEN + "[changes]\nP = { 4 = 2 }", 'change "P" moves string 4; the copedent has strings 1 to 3'),
        (OPEN + "[changes]\nP = { 0 = 2 }", 'change "P" moves string 0; the copedent has strings 1 to 3'),
        (OPEN + "[changes]\nP = { 1 = inf }", 'change "P" moves string 1 by inf; wanted semitones within 12'),
        (OPEN + "[changes]\nP = { 1 = 13 }", 'change "P" moves string 1 by 13.0; wanted semitones within 12'),
        (OPEN + '[changes]\nP = { 1 = 2 }\n"P+Q" = { 1 = 2 }', 'change "P+Q" is no pair of P'),
        (OPEN + '[changes]\nP = { 1 = 2 }\n"P+P" = { 1 = 2 }', 'change "P+P" is no pair of P'),
        (OPEN + '[changes]\nP = {}\nQ = {}\nR = {}\n"P+Q+R" = { 1 = 2 }', 'change "P+Q+R" is no pair of P, Q, R'),
        (
            OPEN + '[changes]\nP = { 1 = 2 }\nL = { 1 = -1 }\n"L+P" = { 1 = 1 }\n"P+L" = { 1 = 1 }',
            'change "P+L" is given twice; wanted one entry for a pair',
        ),
    ],
)
def test_a_bad_copedent(text: str, said: str) -> None:
    with pytest.raises(Unusable) as caught:
        read_copedent(text, "bad.toml")
    assert str(caught.value) == f"bad.toml: {said}"


@given(st.text())
def test_any_text_is_a_copedent_or_one_clear_sentence(text: str) -> None:
    with pytest.raises(Unusable, match=r"^any\.toml: "):
        read_copedent(text, "any.toml")
