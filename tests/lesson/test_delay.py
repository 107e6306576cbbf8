"""Delay times against published tables.

At 120 beats a minute, rounded to milliseconds: quarter 500, quarter triplet 333, eighth 250, eighth triplet 167,
sixteenth 125 (table of note durations, schwabmusic.com/tap-tempo; the same numbers in "Delay Times for Common Rhythmic
Values at 120 BPM", scribd.com/doc/158946340). The dotted eighth is 0.75 of a quarter, the triplets 0.667 and 0.333
(table of multipliers, worshipwarehouse.blogspot.com, 2011-12-03, "How to convert BPM to ms").
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.lesson.delay import NOTE_VALUES, delay_times_ms

AT_120_MS = {"quarter": 500, "quarter triplet": 333, "eighth": 250, "eighth triplet": 167, "sixteenth": 125}
MULTIPLIERS = {
    "quarter": 1.0,
    "dotted eighth": 0.75,
    "quarter triplet": 0.667,
    "eighth": 0.5,
    "eighth triplet": 0.333,
    "sixteenth": 0.25,
}


def test_the_published_table_at_120() -> None:
    times_ms = delay_times_ms(120.0, "4/4")
    assert {name: round(times_ms[name]) for name in AT_120_MS} == AT_120_MS


def test_the_published_multipliers() -> None:
    times_ms = delay_times_ms(142.0, "4/4")
    assert {name: round(ms / times_ms["quarter"], 3) for name, ms in times_ms.items()} == MULTIPLIERS
    assert times_ms["eighth"] == pytest.approx(211.268, abs=5e-4), "its worked example"


def test_a_beat_that_is_no_quarter() -> None:
    """Arithmetic: 180 eighths a minute are 90 quarters, 45 halves are 90 quarters."""
    assert delay_times_ms(180.0, "6/8") == delay_times_ms(90.0, "3/4") == delay_times_ms(45.0, "2/2")


@given(st.floats(1.0, 1000.0), st.sampled_from(["4/4", "6/8", "2/2", "3/16"]))
def test_the_longest_is_first_and_all_are_parts_of_one_whole(tempo: float, meter: str) -> None:
    times_ms = delay_times_ms(tempo, meter)
    assert list(times_ms.values()) == sorted(times_ms.values(), reverse=True)
    wholes_ms = [ms / float(NOTE_VALUES[name]) for name, ms in times_ms.items()]
    assert wholes_ms == pytest.approx([wholes_ms[0]] * len(wholes_ms))
