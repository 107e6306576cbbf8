"""Small pieces of wording.

Pitch names: note 69 of MIDI 1.0 is A4, 440 Hz (ISO 16), and so note 60 is C4.
"""

from __future__ import annotations

import pytest

from livecheck.reports.wording import ms_text, near_name, numbered, pitch_text, plain, step_text, times_text
from tests.reports.verdicts import LAP, lesson_of


@pytest.mark.parametrize(
    ("ms", "said"),
    [(3.0, "5 ms"), (-52.4, "50 ms"), (83, "85 ms"), (97, "95 ms"), (98, "100 ms"), (104, "100 ms"), (-186, "190 ms")],
)
def test_milliseconds_are_told_as_exactly_as_they_matter(ms: float, said: str) -> None:
    assert ms_text(ms) == said


@pytest.mark.parametrize(
    ("midi", "full", "near"),
    [
        (69.0, "A4", "A4"),
        (60.0, "C4", "C4"),
        (67.863, "G#4-14", "G#4"),
        (68.5, "G#4+50", "G#4 +50 cents"),
        (69.004, "A4", "A4"),
    ],
)
def test_pitches(midi: float, full: str, near: str) -> None:
    assert (pitch_text(midi), near_name(midi)) == (full, near)


def test_numbers_and_times() -> None:
    assert numbered("string", [8, 5]) == "strings 5 and 8"
    assert numbered("step", [3]) == "step 3"
    assert numbered("string", [3, 1, 2]) == "strings 1, 2 and 3"
    assert [times_text(n) for n in (1, 2, 12)] == ["first time", "second time", "12. time"]


def test_text_from_outside_cannot_do_anything_to_a_terminal() -> None:
    """C0 and C1 controls (ECMA-48) and directional overrides (Unicode standard annex 9) are gone."""
    assert plain("a\x1b[31mb\x9bc\u202ed\te\nf") == "a[31mbcd e f"
    assert plain("Ünïcode 日本") == "Ünïcode 日本"
    assert plain("bytes \udcff that are no text") == "bytes that are no text"


def test_steps_as_a_player_says_them() -> None:
    porch, grips, _ = lesson_of().figures
    assert [step_text(porch, n) for n in range(1, 6)] == [
        "beat 1, pick 5 and 8 at fret 10 with LKR",
        "beat 2 1/2, LKR off",
        "beat 4, bar from 10 to 12 and B down",
        "beat 5, pick 3 and 4 at fret 7 with half B",
        "beat 7, block all",
    ]
    assert step_text(grips, 2) == "beat 3, A off and B off"
    lap = lesson_of(
        """
        format = 1
        tempo = 60
        copedent = "lap"
        [[figure]]
        name = "1"
        length = 8
        steps = [
          { beat = 1, fret = 0, pick = [1, 2, 3], roll = "1/3" },
          { beat = 3, slant = { 2 = 4, 3 = 5 }, pick = [2, 3], block = [1] },
          { beat = "4 1/3", pull = { 2 = 1 } },
          { beat = 5, pull = {}, fret = 7.5 },
        ]
        """,
        LAP,
    ).figures[0]
    assert [step_text(lap, n) for n in range(1, 5)] == [
        "beat 1, roll 1, 2 and 3 open",
        "beat 3, pick 2 and 3 with the bar slanted and block 1",
        "beat 4 1/3, string 2 pulled",
        "beat 5, bar from the slant to 7.5 and string 2 let go",
    ]
