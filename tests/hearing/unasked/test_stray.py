"""What nobody asked for: a string too many, a ringing string struck again; and neither where all is by the book."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.scene import Scene
from livecheck.hearing.sound.onset import onsets
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.unasked.again import struck_again
from livecheck.hearing.unasked.stray import strays
from tests.hearing.played import DURATION_S, Part, Stroke, tracked
from tests.hearing.tones import laid

PART = Part.of(
    "{ beat = 1, fret = 3, pick = [5, 6] }",
    "{ beat = 3, fret = 5, over = 0.3 }",
    '{ beat = 4, down = ["A"], over = 0.3 }',
    "{ beat = 5, fret = 8, pick = [4, 5] }",
)
# Strings 2, 4, 5, 6, 8 and 10 are D#4, E4, B3, G#3, E3 and B2.


def _heard(
    part: Part, extra: Sequence[Stroke] = (), cut_s: dict[tuple[int, int], float] | None = None
) -> tuple[list[HeardNote], dict[int, list[float]]]:
    """The strays, and for each string of the first step when it was struck again."""
    strokes = part.strokes()
    for key, end_s in (cut_s or {}).items():
        one = strokes[key]
        strokes[key] = Stroke(one.string, one.start_s, end_s, one.knots)
    scene, sounding = part.scene([*strokes.values(), *extra]), part.sounding(part.strokes())
    tracks = tracked(scene, sounding)
    starts = {one.onset.time_s for one in sounding}
    used = {i for i, m in enumerate(scene.moments) if any(abs(m.onset.time_s - s) < 0.01 for s in starts)}
    found = strays(scene, sounding, tracks, used)
    again = struck_again(scene, sounding, tracks, found, used)
    return found, {
        one.string: [onset.time_s for onset in onsets]
        for one, onsets in zip(sounding, again, strict=True)
        if one.asked.checkpoint.step == 1
    }


def test_by_the_book_nothing_is_left_over() -> None:
    assert _heard(PART) == ([], {5: [], 6: []})


@pytest.mark.parametrize(("string", "midi", "at_s"), [(4, 67.0, 2.0), (8, 55.0, 1.7), (10, 52.0, 3.5), (2, 68.0, 3.4)])
def test_a_string_too_many_is_named_with_its_time_and_pitch(string: int, midi: float, at_s: float) -> None:
    found, again = _heard(PART, [Stroke(string, at_s, at_s + 0.7, ((at_s, midi),))])
    (stray,) = found
    assert (stray.string, again) == (string, {5: [], 6: []})
    assert stray.start_s == pytest.approx(at_s, abs=0.005)
    assert stray.median_midi(at_s, at_s + 1.0) == pytest.approx(midi, abs=0.1)


def test_a_neighbour_struck_along_with_a_grip_is_found() -> None:
    (stray,) = _heard(PART, [Stroke(4, 1.0, 2.5, ((1.0, 67.0),))])[0]
    assert stray.string == 4
    assert stray.start_s == pytest.approx(1.0, abs=0.005)


@pytest.mark.parametrize(("silent_s", "count"), [(0.08, 1), (0.0, 0)])
def test_a_string_that_was_silenced_before_the_bar_moved_is_a_stray_when_it_is_struck(
    silent_s: float, count: int
) -> None:
    """Of one that rang on the bar makes a new pitch as well."""
    part = Part.of("{ beat = 1, fret = 3, pick = [6] }", "{ beat = 3, fret = 8, pick = [4] }")
    level = 0.1 if silent_s else 0.04
    extra = [Stroke(6, 3.0 - (0.0 if silent_s else 0.02), 4.5, ((3.0, 64.0),), level, 0.0 if silent_s else 0.03)]
    found, _ = _heard(part, extra, {(1, 6): 3.0 - silent_s})
    assert [stray.string for stray in found] == [6] * count


@pytest.mark.parametrize("string", [5, 6])
@pytest.mark.parametrize("at_s", [1.6, 2.2, 3.5])
def test_a_ringing_string_struck_again_is_no_other_string(string: int, at_s: float) -> None:
    stroke = PART.strokes()[1, string]
    second = Stroke(string, at_s, stroke.end_s, tuple((t + 1e-9, m) for t, m in stroke.knots))
    found, again = _heard(PART, [second], {(1, string): at_s})
    assert found == []
    assert again == {5: [], 6: []} | {string: [pytest.approx(at_s, abs=0.005)]}


def test_the_whole_grip_struck_again_is_each_of_its_strings() -> None:
    strokes = [s for (step, _), s in PART.strokes().items() if step == 1]
    seconds = [Stroke(s.string, 2.2, s.end_s, s.knots) for s in strokes]
    found, again = _heard(PART, seconds, {(1, 5): 2.2, (1, 6): 2.2})
    assert found == []
    assert again == {5: [pytest.approx(2.2, abs=0.005)], 6: [pytest.approx(2.2, abs=0.005)]}


@pytest.mark.parametrize(("strings", "times_s"), [((4, 5, 8), {4, 5, 8}), ((4, 8), {4, 8}), ((8,), {8}), ((5,), {5})])
def test_a_pick_repeated_as_a_whole_is_repeated_on_the_string_that_hides_in_it(
    strings: tuple[int, ...], times_s: set[int]
) -> None:
    """String 4 is the octave of string 8: struck together with it, it has no partial of its own."""
    pick = ", ".join(map(str, sorted({4, 8, *strings})))
    part = Part.of(f"{{ beat = 1, fret = 3, pick = [{pick}] }}")
    strokes = part.strokes()
    seconds = [Stroke(s, 2.2, strokes[1, s].end_s, strokes[1, s].knots) for s in strings]
    found, again = _heard(part, seconds, {(1, s): 2.2 for s in strings})
    assert found == []
    assert {string for string, onsets in again.items() if onsets} == times_s


def test_a_string_that_rings_on_into_the_next_grip_is_no_stray() -> None:
    """String 6 is left ringing when the bar goes on to the eighth fret and strings 4 and 5 are struck there."""
    long = Stroke(6, 1.0, 6.0, ((1.0, 59.0), (2.7, 59.0), (3.0, 61.0), (4.93, 61.0), (5.0, 64.0)))
    strokes = PART.strokes()
    strokes[1, 6] = long
    scene, sounding = PART.scene(strokes.values()), PART.sounding(PART.strokes())
    used = {i for i, m in enumerate(scene.moments) if abs(m.onset.time_s - 5.0) < 0.01}
    assert [s.string for s in strays(scene, sounding, tracked(scene, sounding), used) if s.start_s > 4.0] == []


def test_a_string_that_the_pick_silenced_hides_no_stray() -> None:
    """String 8 rings until strings 5 and 6 are struck, and string 4, an octave above it, along with them."""
    part = Part.of("{ beat = 1, fret = 3, pick = [8] }", "{ beat = 3, fret = 3, pick = [5, 6] }")
    assert [s.string for s in _heard(part, [Stroke(4, 3.0, 4.5, ((3.0, 67.0),))])[0]] == [4]
    assert _heard(part)[0] == []


def test_strings_that_are_still_being_faded_in_grow_beside_a_stray_by_themselves() -> None:
    part = Part.of("{ beat = 1, fret = 3, pick = [4, 5, 6], swell = true }")
    strokes = [replace(one, swell_s=0.4) for one in part.strokes().values()]
    stray = Stroke(10, 1.2, 2.5, ((1.2, 50.0),), level=0.014)
    scene, sounding = part.scene([*strokes, stray]), part.sounding(part.strokes())
    found = strays(scene, sounding, tracked(scene, sounding), set())
    assert [one.string for one in found] == [10]


# while the bar moves, and where a louder string covers another


@pytest.mark.parametrize("string", [4, 8])
def test_a_stray_that_glides_from_its_start_on_is_found(string: int) -> None:
    """The bar is on its way from fret 3 to 5 when another string is struck: it moves along."""
    part = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }", "{ beat = 4, fret = 5, over = 1.0 }", length=6)
    open_midi = {4: 64.0, 8: 52.0}[string]
    knots = ((3.1, open_midi + 3.2), (4.0, open_midi + 5.0))
    (stray,) = _heard(part, [Stroke(string, 3.1, 3.6, knots, level=0.2)])[0]
    assert stray.start_s == pytest.approx(3.1, abs=0.01)
    assert stray.string == string


def test_a_stray_much_louder_than_what_rings_does_not_pass_for_it() -> None:
    """One string rings on softly; another one is struck a tone and a half away, five times as loud."""
    part = Part.of("{ beat = 1, fret = 3, pick = [5] }", '{ beat = 6, block = "all" }', length=6)
    stroke = Stroke(6, 3.0, 4.0, ((3.0, 59.0),), level=0.5)
    found, again = _heard(part, [stroke])
    assert [stray.string for stray in found] == [6]
    assert again == {5: []}


def test_a_slide_by_the_book_leaves_no_stray_on_its_way() -> None:
    part = Part.of("{ beat = 1, fret = 3, pick = [4] }", "{ beat = 3, fret = 8, over = 0.25 }", length=6)
    assert _heard(part) == ([], {4: []})


def test_a_thump_strikes_no_string_that_ends_while_the_others_glide() -> None:
    """String 6 is blocked while string 5 is on its way: by the time that it stands still, nothing is left of string 6
    that could have grown."""
    part = Part.of(
        "{ beat = 1, fret = 3, pick = [5, 6] }", "{ beat = 2.25, block = [6] }", "{ beat = 2.6, fret = 5, over = 0.6 }"
    )
    count = round(0.02 * WORK_RATE_HZ)
    thump = np.random.default_rng(4).normal(0.0, 0.3, count) * np.exp(-np.arange(count) / 80.0)
    strokes = part.strokes()
    sounds = [*((stroke.start_s, stroke.samples()) for stroke in strokes.values()), (2.2, thump.astype(np.float32))]
    recording = laid(sounds, DURATION_S)
    scene = Scene(recording, onsets(recording), part.copedent, part.score)
    sounding = part.sounding(strokes)
    used = {i for i, m in enumerate(scene.moments) if abs(m.onset.time_s - 1.0) < 0.01}
    assert any(abs(moment.onset.time_s - 2.2) < 0.01 for moment in scene.moments)
    assert struck_again(scene, sounding, tracked(scene, sounding), (), used) == [[], []]


# what sounds beside the player


@pytest.mark.parametrize("at_s", [1.7, 3.5])
def test_a_string_of_the_stance_in_another_player_s_chord_is_no_stray(at_s: float) -> None:
    """String 4 is one of five tones that are struck together."""
    part = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }", length=6)
    chord = [Stroke(4, at_s, at_s + 0.7, ((at_s, midi),), level=0.05) for midi in (53.5, 57.4, 67.0, 70.4, 72.6)]
    assert _heard(part, chord)[0] == []
    assert [stray.string for stray in _heard(part, chord[2:3])[0]] == [4]


@pytest.mark.parametrize(("level", "count"), [(0.05, 1), (0.008, 0)])
def test_what_is_far_softer_than_the_picks_was_not_struck(level: float, count: int) -> None:
    part = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }", '{ beat = 4, block = "all" }', length=6)
    assert len(_heard(part, [Stroke(8, 5.5, 6.2, ((5.5, 55.0),), level=level)])[0]) == count
