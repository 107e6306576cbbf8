"""What is known of a figure's time before it is listened to closely."""

from __future__ import annotations

import numpy as np

from livecheck.judging.brief import Brief
from livecheck.judging.fitting import Fitting
from livecheck.judging.follow import Passage
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import load_copedent, load_tolerances
from tests.judging.midi_player import figure_of, lesson_of


def test_a_rolled_grip_is_one_event_of_the_player_s_way() -> None:
    """Three strings that come too soon together would outweigh all that came in time."""
    text = lesson_of(
        figure_of("1", 6, "beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5, pick = [3, 4, 5], roll = 0.25")
    )
    lesson = read_lesson(text, "lesson.toml", load_copedent)
    fitting = Fitting(Brief(lesson, lesson.figures, load_tolerances("standard")))
    times_s = np.arange(0.0, 6.0, 0.02)
    passage = Passage(0, times_s, 1.0 + times_s, 0.8)
    assert [(event.beat, round(event.time_s, 6)) for event in fitting.path_events(passage)] == [(1.0, 0.0), (3.0, 2.0)]
