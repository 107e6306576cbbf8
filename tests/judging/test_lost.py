"""Takes, cut down to the figures around one that was lost once, in which all of them must be found.

Made by `tests.bench` from a free sound font's guitars (FluidR3 GM); what was wrong in each is beside its name.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile

from livecheck.engine import AudioEngine, Brief
from livecheck.judging.verdict import TakeVerdict
from livecheck.sources.library import load_lesson, load_tolerances

CASES = Path(__file__).parent / "cases"


def _verdict(name: str) -> TakeVerdict:
    lesson = load_lesson(str(CASES / f"{name}.toml"))
    samples, rate_hz = soundfile.read(CASES / f"{name}.ogg", dtype="float32")
    engine = AudioEngine(Brief(lesson, lesson.figures, load_tolerances("standard")), rate_hz)
    engine.feed(samples)
    return engine.finish(name)


@pytest.mark.parametrize(
    ("name", "figures"),
    [
        # A wrong string all through a figure of one pick and four moves: its moves fit the next step better.
        ("shifted-by-a-step", ["4", "5", "6"]),
        # A figure begun with a pedal up and left by long moves: the way into it was found half a second late.
        ("entered-late", ["3", "4", "5"]),
        # The way of the figure after it had taken it in.
        ("taken-in-by-the-next", ["4", "5", "6"]),
    ],
)
def test_no_figure_is_lost(name: str, figures: list[str]) -> None:
    assert [figure.figure.name for figure in _verdict(name).figures if figure.found] == figures


def test_a_grip_played_as_the_one_before_it_does_not_shift_the_figure() -> None:
    """The second grip is struck a fret too high, which gives the three pitches of the first."""
    figure = next(f for f in _verdict("taken-for-the-step-before").figures if f.figure.name == "4")
    assert [(c.step, c.string, c.faults) for c in figure.checkpoints if c.faults] == [
        (2, string, ("wrong-note",)) for string in (4, 6, 8)
    ]
