"""Which of the strings that seem to be struck were."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.scene import Scene
from livecheck.hearing.sound.onset import onsets
from livecheck.hearing.strokes.struck import struck_strings, without_hidden, without_mimicked
from tests.hearing.played import Part, Stroke, driven


def test_a_string_of_which_nothing_is_told_stays_beside_a_stray() -> None:
    """What the others of a driven grip mix to covers all partials of the lowest, so that none of them grew."""
    part = Part.of("{ beat = 1, fret = 3, pick = [5, 6, 8, 10] }")
    recording = driven(part.strokes().values(), 8.0)
    scene = Scene(recording, onsets(recording), part.copedent, part.score)
    scene.mark_driven()
    sounding, _ = struck_strings(scene)
    struck_s = sounding[0].onset.time_s
    stray = HeardNote(1, struck_s, struck_s + 0.5, np.array([struck_s, struck_s + 0.5]), np.array([73.3, 73.3]))
    assert {one.string for one in without_mimicked(scene, sounding, [stray])} == {5, 6, 8, 10}


def test_a_string_that_brings_what_an_octave_below_lacked_stays_beside_a_stray() -> None:
    """What rings since before brings nothing new: the octave above it was struck, and the stray as well."""
    part = Part.of("{ beat = 1, fret = 7, pick = [10] }", "{ beat = 3, pick = [5], ring = true }")
    strokes = part.strokes()
    scene = part.scene([*strokes.values(), Stroke(7, 3.0, 4.5, ((3.0, 61.0),))])
    sounding, _ = struck_strings(scene)
    stray = HeardNote(7, sounding[1].onset.time_s, 3.5, np.array([3.0, 3.5]), np.array([61.0, 61.0]))
    assert {one.string for one in without_hidden(scene, sounding, [stray])} == {5, 10}


def test_a_stray_takes_the_place_of_a_string_that_brings_nothing_to_the_octave_below() -> None:
    part = Part.of("{ beat = 1, fret = 7, pick = [10] }", "{ beat = 3, pick = [5], ring = true }")
    strokes = part.strokes()
    scene = part.scene([strokes[1, 10], Stroke(7, 3.0, 4.5, ((3.0, 61.0),))])
    sounding, _ = struck_strings(scene)
    stray = HeardNote(7, sounding[1].onset.time_s, 3.5, np.array([3.0, 3.5]), np.array([61.0, 61.0]))
    assert {one.string for one in without_hidden(scene, sounding, [stray])} == {10}


def test_what_hides_does_not_slip_alone_where_another_string_is_wrong() -> None:
    """Above what string 9 brings, struck instead of 10, lies all that others leave of string 5 two frets lower."""
    part = Part.of("{ beat = 1, fret = 4, pick = [5, 6, 8, 10] }")
    strokes = part.strokes()
    lowest = strokes.pop((1, 10))
    higher = tuple((time_s, midi + 3.0) for time_s, midi in lowest.knots)
    strokes[1, 9] = replace(lowest, string=9, knots=higher)
    strokes[1, 5] = replace(strokes[1, 5], level=0.005)
    sounding, _ = struck_strings(part.scene(strokes.values()))
    assert {one.asked.note.string: one.string for one in sounding} == {5: 5, 6: 6, 8: 8, 10: 9}
    assert max(abs(one.midi - one.asked.midi) for one in sounding if one.string != 9) < 0.2


def test_a_bar_elsewhere_is_told_by_what_none_of_the_asked_strings_has() -> None:
    """Two frets lower string 4 has what string 5 was asked for and string 3 what 4 would have with a pedal; the even
    partials of string 5 speak for string 3."""
    part = Part.of("{ beat = 1, fret = 7, pick = [3, 4, 5] }", copedent="c6-ten-string")
    played = [
        replace(one, knots=tuple((time_s, midi - 2.0) for time_s, midi in one.knots)) for one in part.strokes().values()
    ]
    sounding, _ = struck_strings(part.scene(played))
    assert {one.string: round(one.midi - one.asked.midi) for one in sounding} == {3: -2, 4: -2, 5: -2}
