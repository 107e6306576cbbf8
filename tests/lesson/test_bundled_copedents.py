"""The copedents that come with livecheck.

Outside check: sizes of just intervals in cents, as tabulated by A. J. Ellis in his appendix XX to Helmholtz, On the
Sensations of Tone (values from memory): 5/4 = 386.31, 6/5 = 315.64, 4/3 = 498.04, 3/2 = 701.96, 81/80 = 21.51. What
chords the pedals make is common practice, no source.
"""

from __future__ import annotations

import math
import re
import tomllib
from fractions import Fraction

import pytest

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.pitch import name_of, parse_name
from livecheck.sources.library import configs_folder, load_copedent, names_of

E9 = load_copedent("e9-ten-string")
JUST = load_copedent("e9-ten-string-just")

# The note's ratio to E, over all octaves.
F = Fraction
RATIOS = {
    "E": F(1), "F": F(25, 24), "F#": F(9, 8), "G": F(6, 5), "G#": F(5, 4), "A": F(4, 3), "A#": F(45, 32), "B": F(3, 2),
    "C": F(8, 5), "C#": F(5, 3), "D": F(16, 9), "D#": F(15, 8),
}  # fmt: skip
LOW_F_SHARP = F(10, 9)
WRITTEN_TO = 0.001
"""Semitones: cents are written with two decimals, changes with three."""


def cents_of(ratio: Fraction) -> float:
    return 1200.0 * math.log2(ratio)


def pure(midi: float, ratio: Fraction) -> float:
    """The pitch nearest to an equal-tempered one that stands in a ratio to E."""
    above_e = 64.0 + cents_of(ratio) / 100.0
    return above_e + 12.0 * round((midi - above_e) / 12.0)


@pytest.mark.parametrize(
    ("ratio", "cents"),
    [
        (F(5, 4), 386.31),
        (F(6, 5), 315.64),
        (F(4, 3), 498.04),
        (F(3, 2), 701.96),
        (F(81, 80), 21.51),
        (F(25, 24), 70.67),
        (F(16, 15), 111.73),
    ],
)
def test_published_sizes_of_just_intervals(ratio: Fraction, cents: float) -> None:
    assert cents_of(ratio) == pytest.approx(cents, abs=0.005)


def test_only_ratios_of_two_three_and_five_are_used() -> None:
    for ratio in [*RATIOS.values(), LOW_F_SHARP]:
        for number in (ratio.numerator, ratio.denominator):
            assert 2**9 * 3**6 * 5**4 % number == 0


@pytest.mark.parametrize("string", range(1, 11))
def test_just_open_strings_follow_from_their_ratios(string: int) -> None:
    tempered = E9.open_midi(string)
    note = name_of(tempered)[:-1]
    assert JUST.open_midi(string) == pytest.approx(pure(tempered, RATIOS[note]), abs=1e-4)


@pytest.mark.parametrize(
    ("change", "string"), [(change, string) for change, pulls in E9.changes.items() for string in pulls]
)
def test_just_changes_follow_from_their_ratios(change: str, string: int) -> None:
    reached = E9.open_midi(string) + E9.shift(string, {change: 1.0})
    note = name_of(reached)[:-1]
    ratio = LOW_F_SHARP if change == "C" and note == "F#" else RATIOS[note]
    sounding = JUST.open_midi(string) + JUST.shift(string, {change: 1.0})
    assert sounding == pytest.approx(pure(reached, ratio), abs=WRITTEN_TO)


def test_just_has_the_same_strings_and_changes() -> None:
    assert JUST.changes.keys() == E9.changes.keys()
    assert {name: pulls.keys() for name, pulls in JUST.changes.items()} == {
        name: pulls.keys() for name, pulls in E9.changes.items()
    }
    assert [name_of(midi) for midi in JUST.strings] == [name_of(midi) for midi in E9.strings]


@pytest.mark.parametrize(("pair", "string", "note"), [("A+LKV", 5, "C"), ("A+LKV", 10, "C"), ("C+LKV", 5, "C")])
def test_pairs_stand_where_the_rule_would_miss_the_ratio(pair: str, string: int, note: str) -> None:
    down = dict.fromkeys(pair.split("+"), 1.0)
    wanted = pure(E9.open_midi(string) + E9.shift(string, down), RATIOS[note])
    by_rule = Copedent("no pairs", JUST.strings, JUST.changes)
    assert JUST.open_midi(string) + JUST.shift(string, down) == pytest.approx(wanted, abs=WRITTEN_TO)
    assert abs(JUST.open_midi(string) + by_rule.shift(string, down) - wanted) > 0.4


def test_the_comments_of_the_just_file_are_the_ratios_of_its_table() -> None:
    text = (configs_folder() / "copedents" / "e9-ten-string-just.toml").read_text(encoding="utf-8")
    shown = re.findall(r"([0-9]+/[0-9]+) +over ([0-9]+/[0-9]+) += ([0-9]+/[0-9]+) +(-?[0-9]+\.[0-9]+)", text)
    assert len(shown) == sum(len(set(pulls.values())) for pulls in E9.changes.values())
    for new, old, interval, cents in shown:
        assert F(new) / F(old) == F(interval)
        assert cents_of(F(interval)) == pytest.approx(float(cents), abs=0.005)
    notes = re.findall(r"(\S+) ([0-9]+/[0-9]+)", text.split("\n#\n")[2])
    assert {note: F(ratio) for note, ratio in notes} == RATIOS


def chord(copedent: Copedent, down: str, strings: list[int]) -> list[float]:
    engaged = dict.fromkeys(down.split(), 1.0)
    return sorted(copedent.open_midi(string) + copedent.shift(string, engaged) for string in strings)


MAJOR, MINOR = (F(5, 4), F(3, 2)), (F(6, 5), F(3, 2))
CHORDS = [
    ("", [8, 6, 5], "E3", MAJOR),
    ("", [4, 3], "E4", (F(5, 4),)),
    ("A B", [6, 5, 4], "A3", MAJOR),
    ("A LKL", [10, 8, 6], "C#3", MAJOR),
    ("A", [5, 4, 3], "C#4", MINOR),
    ("LKR", [10, 8, 7], "B2", MAJOR),
    ("LKR", [6, 5, 4], "G#3", MINOR),
    ("B RKL", [8, 6, 5], "E3", MINOR),
    ("A B LKV", [6, 5, 4], "A3", MINOR),
]


@pytest.mark.parametrize(("down", "strings", "root", "ratios"), CHORDS)
def test_chords_of_the_pedals(down: str, strings: list[int], root: str, ratios: tuple[Fraction, ...]) -> None:
    """Common practice, no source: the changes were made for these chords. In just intonation they do not beat."""
    tempered, just = chord(E9, down, strings), chord(JUST, down, strings)
    assert tempered[0] == parse_name(root)
    for above, ratio in enumerate(ratios, start=1):
        assert tempered[above] - tempered[0] == round(cents_of(ratio) / 100.0)
        assert just[above] - just[0] == pytest.approx(cents_of(ratio) / 100.0, abs=0.002)


def test_b_and_c_give_a_minor_chord_a_whole_tone_up() -> None:
    """Common practice, no source. The root of the chord is on string 4, above its third and fifth."""
    third, fifth, root = chord(JUST, "B C", [6, 5, 4])
    assert root - third == pytest.approx(cents_of(F(5, 3)) / 100.0, abs=0.002)
    assert fifth - third == pytest.approx(cents_of(F(5, 4)) / 100.0, abs=0.002)
    assert [name_of(midi) for midi in chord(E9, "B C", [6, 5, 4])] == ["A3", "C#4", "F#4"]


def test_a_and_b_give_the_fourth_chord_at_the_same_fret() -> None:
    """Common practice, no source: the chord on strings 4, 5, 6 becomes the one a fourth above the open chord's root."""
    assert [name_of(midi) for midi in chord(E9, "", [6, 5, 4])] == ["G#3", "B3", "E4"]
    assert [name_of(midi) for midi in chord(E9, "A B", [6, 5, 4])] == ["A3", "C#4", "E4"]


def test_a_and_lkl_give_the_open_chord_three_frets_further_up() -> None:
    """Common practice, no source: pedal A and lever LKL with the bar three frets up are the open chord again."""
    names = {name_of(midi + 3.0)[:-1] for midi in chord(E9, "A LKL", [3, 4, 5, 6, 8, 10])}
    assert names == {"E", "G#", "B"}


def test_two_neighbouring_strings_harmonise_the_major_scale_in_thirds() -> None:
    """Common practice, no source: strings 5 and 6, with pedals A and B or with none, and the bar."""
    major = [0, 2, 4, 5, 7, 9, 11]
    reached = {}
    for fret in range(12):
        for down in ("", "A B"):
            lower, upper = ((midi + fret - 64.0) % 12 for midi in chord(E9, down, [6, 5]))
            reached[lower, upper] = (fret, down)
    thirds = [(degree, major[(index + 2) % 7]) for index, degree in enumerate(major)]
    assert [third for third in thirds if third not in reached] == []


def test_the_e9_neck_and_its_changes() -> None:
    assert [name_of(midi) for midi in E9.strings] == ["F#4", "D#4", "G#4", "E4", "B3", "G#3", "F#3", "E3", "D3", "B2"]
    assert E9.changes == {
        "A": {5: 2, 10: 2},
        "B": {3: 1, 6: 1},
        "C": {4: 2, 5: 2},
        "LKL": {4: 1, 8: 1},
        "LKV": {5: -1, 10: -1},
        "LKR": {4: -1, 8: -1},
        "RKL": {1: 1, 6: -2},
        "RKR": {2: -2, 9: -1},
    }
    assert not E9.pairs


def test_the_c6_neck_and_its_pedals() -> None:
    """Common practice, it varies: the notes that each pedal makes, as commonly charted."""
    c6 = load_copedent("c6-ten-string")
    assert [name_of(midi) for midi in c6.strings] == ["G4", "E4", "C4", "A3", "G3", "E3", "C3", "A2", "F2", "C2"]
    made = {
        pedal: {string: name_of(c6.open_midi(string) + semitones) for string, semitones in pulls.items()}
        for pedal, pulls in c6.changes.items()
    }
    assert made == {
        "P4": {4: "B3", 8: "B2"},
        "P5": {5: "F#3", 9: "F#2"},
        "P6": {2: "F4", 6: "D#3"},
        "P7": {3: "D4", 4: "B3"},
        "P8": {7: "C#3", 9: "E2", 10: "A1"},
    }


CHORD_OF = {
    "lap-steel-six-c6": "C E G A",
    "lap-steel-eight-c6": "C E G A",
    "lap-steel-six-a6": "A C# E F#",
    "lap-steel-eight-a6": "A C# E F#",
    "lap-steel-six-e7": "E G# B D",
    "open-g": "G B D",
    "open-g-low": "G B D",
    "open-a": "A C# E",
    "open-d": "D F# A",
    "open-e": "E G# B",
}


@pytest.mark.parametrize(("name", "notes"), CHORD_OF.items())
def test_open_tunings_are_the_chord_that_names_them(name: str, notes: str) -> None:
    tuning = load_copedent(name)
    assert {name_of(midi)[:-1] for midi in tuning.strings} == set(notes.split())
    assert list(tuning.strings) == sorted(tuning.strings, reverse=True)
    assert not tuning.changes
    assert len(tuning.strings) == (8 if "eight" in name else 6)


def test_every_bundled_copedent_is_tested_here_and_says_what_it_is() -> None:
    assert set(names_of("copedents")) == {*CHORD_OF, "e9-ten-string", "e9-ten-string-just", "c6-ten-string"}
    for name in names_of("copedents"):
        text = (configs_folder() / "copedents" / f"{name}.toml").read_text(encoding="utf-8")
        assert text.startswith("#:schema ../schemas/copedent.schema.json\n# ")
        assert tomllib.loads(text)["name"]
