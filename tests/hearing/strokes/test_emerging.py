"""A string without an attack: found where it was faded in, not where it was not played or rang already."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from livecheck.hearing.scene import Scene, Sounding
from livecheck.hearing.sound.onset import Onset, onsets
from livecheck.hearing.strokes.emerging import emerged
from livecheck.hearing.strokes.picks import asked_of
from tests.hearing.played import Part, Stroke, recorded

SWELL = Part.of("{ beat = 1, fret = 3, pick = [6] }", "{ beat = 3, fret = 3, pick = [5], ring = true, swell = true }")


def _emerged(*strokes: Stroke) -> Sounding | None:
    asked = next(one for one in asked_of(SWELL.score) if one.checkpoint.step == 2)
    return emerged(SWELL.scene(strokes), asked)


@pytest.mark.parametrize("swell_s", [0.15, 0.3, 0.6])
def test_a_string_that_was_faded_in_is_found_while_it_grows(swell_s: float) -> None:
    under, faded = SWELL.strokes().values()
    found = _emerged(under, replace(faded, swell_s=swell_s))
    assert found is not None
    assert found.onset.time_s == pytest.approx(3.0, abs=0.05)
    assert (found.string, found.midi) == (5, 62.0)


@pytest.mark.parametrize("semitones", [-0.4, 0.4])
def test_a_string_that_is_faded_in_out_of_tune_is_found_where_it_sounds(semitones: float) -> None:
    under, faded = SWELL.strokes().values()
    found = _emerged(under, replace(faded, swell_s=0.3, knots=((3.0, 62.0 + semitones),)))
    assert found is not None
    assert found.midi == pytest.approx(62.0 + semitones, abs=0.05)


@pytest.mark.parametrize("until_s", [3.15, 3.2, 3.3])
def test_a_string_that_was_faded_in_and_silenced_at_once_is_found(until_s: float) -> None:
    under, faded = SWELL.strokes().values()
    found = _emerged(replace(under, end_s=2.98), replace(faded, swell_s=0.15, end_s=until_s))
    assert found is not None
    assert found.onset.time_s == pytest.approx(3.0, abs=0.05)


def test_a_string_that_rang_until_it_is_faded_in_again_is_found() -> None:
    """Its sound is weakest after its time, not before."""
    under, faded = SWELL.strokes().values()
    found = _emerged(under, replace(faded, swell_s=0.3), Stroke(5, 1.0, 2.98, ((1.0, 62.0),)))
    assert found is not None
    assert found.onset.time_s == pytest.approx(3.0, abs=0.05)


@pytest.mark.parametrize("level", [0.1, 0.01])
def test_where_nothing_has_an_attack_a_string_that_was_faded_in_is_found(level: float) -> None:
    part = Part.of("{ beat = 1, fret = 3, pick = [5], ring = true, swell = true }")
    (faded,) = part.strokes().values()
    scene = Scene(recorded([replace(faded, swell_s=0.6, level=level)]), [], part.copedent, part.score)
    (asked,) = asked_of(part.score)
    assert emerged(scene, asked) is not None


def test_a_string_that_was_not_played_does_not_emerge() -> None:
    assert _emerged(*[stroke for (step, _), stroke in SWELL.strokes().items() if step == 1]) is None
    assert _emerged() is None


def test_a_string_that_rang_all_along_does_not_emerge() -> None:
    long = Stroke(5, 1.0, 6.0, ((1.0, 62.0),))
    assert _emerged(long) is None


@pytest.mark.parametrize(("level", "is_found"), [(0.01, True), (0.0003, False)])
def test_what_comes_in_a_silence_far_below_what_was_struck_is_its_noise(level: float, is_found: bool) -> None:
    """So soft is what is left of an echo."""
    under, faded = SWELL.strokes().values()
    found = _emerged(replace(under, end_s=2.5), replace(faded, swell_s=0.3, level=level))
    assert (found is not None) is is_found


def test_what_sounded_before_at_its_pitch_is_not_it() -> None:
    """Struck early and damped: its time comes, and nothing does."""
    under, _ = SWELL.strokes().values()
    assert _emerged(under, Stroke(5, 2.2, 2.7, ((2.2, 62.0),))) is None


def test_where_it_sounded_before_it_begins_when_it_comes_anew() -> None:
    """The stroke before is louder, and within the time in which it may come."""
    under, faded = SWELL.strokes().values()
    found = _emerged(under, replace(faded, swell_s=0.2, level=0.05), Stroke(5, 2.3, 2.7, ((2.3, 62.0),), 0.2))
    assert found is not None
    assert found.onset.time_s == pytest.approx(3.0, abs=0.05)


def test_another_pitch_faded_in_is_not_this_string() -> None:
    under, faded = SWELL.strokes().values()
    assert _emerged(under, replace(faded, swell_s=0.3, knots=((3.0, 63.0),))) is None


def test_a_string_that_comes_with_others_begins_with_them() -> None:
    under, faded = SWELL.strokes().values()
    other = Stroke(4, 3.02, 5.0, ((3.02, 67.0),))
    found = _emerged(under, replace(faded, swell_s=0.1), other)
    assert found is not None
    assert found.onset.time_s == pytest.approx(3.02, abs=0.006)


@pytest.mark.parametrize(("others", "struck", "is_found"), [(0, False, True), (5, False, False), (5, True, True)])
def test_what_comes_with_an_onset_of_those_who_play_beside_is_theirs(others: int, struck: bool, is_found: bool) -> None:
    """One that comes softly by itself is the player's, and so is one that comes with a string of his."""
    beats = (1, 1.75, 2.5, 3)
    part = Part.of(*(f"{{ beat = {beat}, fret = 3, pick = [{5 if beat == 3 else 6}] }}" for beat in beats))
    *picked, _ = part.strokes().values()
    band = [Stroke(0, at_s, at_s + 0.3, ((at_s, 72.6),), 0.012) for at_s in 3.5 + 0.5 * np.arange(others)]
    mine = [Stroke(9, 3.1, 4.0, ((3.1, 50.0),), 0.05)] * struck
    scene = part.scene([*picked, *mine, Stroke(5, 3.15, 4.0, ((3.15, 62.0),), 0.012), *band])
    scene.background += [Onset(3.12, 0.3)] * struck
    assert scene.has_background is (others > 0)
    asked = next(one for one in asked_of(part.score) if one.checkpoint.step == 4)
    assert (emerged(scene, asked) is not None) is is_found


@pytest.mark.parametrize(("next_s", "is_found"), [(math.inf, True), (3.2, False)])
def test_what_comes_when_the_next_attempt_begins_is_of_that(next_s: float, is_found: bool) -> None:
    under, faded = SWELL.strokes().values()
    recording = recorded([under, replace(faded, start_s=3.18, swell_s=0.1, knots=((3.18, 62.0),))])
    scene = Scene(recording, onsets(recording), SWELL.copedent, SWELL.score, next_s=next_s)
    asked = next(one for one in asked_of(SWELL.score) if one.checkpoint.step == 2)
    assert (emerged(scene, asked) is not None) is is_found
