"""A grip played so far below that all it should have is there too."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.scene import Sounding
from livecheck.hearing.strokes.picks import asked_of
from livecheck.hearing.unasked.one_pitch import at_one_pitch
from tests.hearing.played import Part, Stroke


@pytest.mark.parametrize("touched_s", [2.85, 3.2])
def test_of_a_grip_that_came_without_an_onset_it_cannot_be_told(touched_s: float) -> None:
    """It is faded in slowly, twelve frets below, and what was touched near its time seemed to be its pick."""
    part = Part.of("{ beat = 1, fret = 2, pick = [5, 6] }", "{ beat = 3, fret = 14, pick = [5, 8], swell = true }")
    strokes = part.strokes()
    played = [replace(strokes[1, string], end_s=2.6) for string in (5, 6)]
    played += [
        replace(strokes[2, string], knots=((3.0, strokes[2, string].knots[0][1] - 12.0),), swell_s=0.8)
        for string in (5, 8)
    ]
    beside = [Stroke(0, 0.2, 7.5, ((0.2, 45.6),), 0.3), Stroke(0, touched_s, touched_s + 0.05, ((0.0, 90.3),), 0.05)]
    scene = part.scene([*played, *beside])
    place, moment = min(enumerate(scene.moments), key=lambda each: abs(each[1].onset.time_s - touched_s))
    sounding = [
        Sounding(asked, moment.onset, asked.midi, asked.note.string)
        for asked in asked_of(part.score)
        if asked.checkpoint.step == 2
    ]
    times_s = moment.onset.time_s + np.array([0.0, 0.4])
    stray = HeardNote(5, float(times_s[0]), float(times_s[1]), times_s, np.array([61.0, 61.0]))
    assert at_one_pitch(scene, sounding, [stray], {place}) == (sounding, [stray])
