"""Takes, cut down to the figures around one that was lost once, in which all of them must be found.

Made by `tests.bench` from a free sound font's guitars (FluidR3 GM); what was wrong in each is beside its name.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile

from livecheck.engine import AudioEngine, Brief
from livecheck.sources.library import load_lesson, load_tolerances

CASES = Path(__file__).parent / "cases"


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
    lesson = load_lesson(str(CASES / f"{name}.toml"))
    samples, rate_hz = soundfile.read(CASES / f"{name}.ogg", dtype="float32")
    engine = AudioEngine(Brief(lesson, lesson.figures, load_tolerances("standard")), rate_hz)
    engine.feed(samples)
    assert [figure.figure.name for figure in engine.finish(name).figures if figure.found] == figures
