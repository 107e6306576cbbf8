"""How much ringing strings grew by an onset, and how loud they are since."""

from __future__ import annotations

import pytest

from livecheck.hearing.unasked.growth import Growth, growth
from tests.hearing.played import Part, Stroke, tracked

GLIDE = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }", "{ beat = 3, fret = 8, over = 0.5 }")
GONE = Part.of('{ beat = 1, fret = 3, pick = [5, 6], down = ["A"] }', '{ beat = 3, down = ["B"], over = 0.5 }')
OCTAVE = Part.of("{ beat = 1, fret = 3, pick = [4, 8] }")
SWELL = Part.of("{ beat = 1, fret = 3, pick = [5, 6], swell = true }")
FADED_DB = 1.0
"""What the tones lose between the two times that are compared, at most."""


def _grown(part: Part, at_s: float, again: dict[int, float], swell_s: float = 0.0) -> dict[int, Growth]:
    """For each string of the first step what the onset at a time did to it; `again`: the strings that were struck then,
    and how loud beside the first time; `swell_s`: how long they took to fade in at first."""
    strokes = []
    for (_, string), one in part.strokes().items():
        end_s = at_s if string in again else one.end_s
        strokes.append(Stroke(string, one.start_s, end_s, one.knots, swell_s=swell_s))
        if string in again:
            strokes.append(Stroke(string, at_s, one.end_s, one.knots, level=0.1 * again[string]))
    scene, sounding = part.scene(strokes), part.sounding(part.strokes())
    ringing = list(zip(sounding, tracked(scene, sounding), strict=True))
    moment = min(scene.moments, key=lambda moment: abs(moment.onset.time_s - at_s))
    return {one.string: growth(scene, moment, index, ringing) for index, (one, _) in enumerate(ringing)}


@pytest.mark.parametrize("part", [GLIDE, GONE], ids=["bar", "pedals"])
@pytest.mark.parametrize("at_s", [2.0, 2.75, 4.0])
@pytest.mark.parametrize("string", [5, 6])
def test_who_was_struck_is_told_on_the_way_as_well_as_at_rest(part: Part, at_s: float, string: int) -> None:
    grown = _grown(part, at_s, {string: 1.0})
    (other,) = {5, 6} - {string}
    assert grown[string].gain_db > 2.0
    assert grown[string].back_db == pytest.approx(0.0, abs=2.0)
    assert -FADED_DB - 0.5 < grown[other].gain_db < 0.5


@pytest.mark.parametrize("at_s", [2.0, 2.75, 4.0])
def test_how_loud_a_string_is_struck_again_is_told_beside_the_first_time(at_s: float) -> None:
    assert _grown(GLIDE, at_s, {5: 0.5, 6: 0.5})[5].back_db == pytest.approx(-6.0, abs=2.0)


@pytest.mark.parametrize("swell_s", [0.2, 0.4])
def test_a_string_that_was_faded_in_is_compared_with_what_it_came_to(swell_s: float) -> None:
    grown = _grown(SWELL, 2.5, {5: 1.0}, swell_s)
    assert grown[5].back_db == pytest.approx(0.0, abs=3.0)
    assert grown[6].back_db < 0.0


def test_a_string_an_octave_above_another_is_told_by_what_they_share() -> None:
    grown = _grown(OCTAVE, 2.0, {4: 1.0, 8: 1.0})
    assert (grown[8].behind, grown[4].behind) == ((), (1,))
    assert grown[4].gain_db > 0.5
    assert grown[4].back_db == pytest.approx(0.0, abs=2.0)


@pytest.mark.parametrize("at_s", [1.5, 2.0, 3.0, 4.0])
def test_a_lower_string_struck_alone_does_not_bring_the_octave_above_it_back(at_s: float) -> None:
    """It is all that the lowest partial that they share was, but not the others."""
    assert _grown(OCTAVE, at_s, {8: 1.0})[4].back_db < -5.0
