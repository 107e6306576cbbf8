"""What was played in place of a pick: bar or pedal elsewhere, another string, any other pitch, or nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from livecheck.hearing.scene import Sounding
from livecheck.hearing.sound.moment import Moment
from livecheck.hearing.strokes.instead import instead, new_presences
from livecheck.hearing.strokes.picks import asked_of
from tests.hearing.played import Part, Stroke

STEP = 2
GRIP = Part.of("{ beat = 1, fret = 10, pick = [5, 6] }", '{ beat = 3, fret = 6, down = ["A"], pick = [4, 5] }')
FADED = Part.of("{ beat = 1, fret = 10, pick = [5, 6] }", "{ beat = 3, fret = 6, pick = [4, 8], swell = true }")
ROLLED = Part.of("{ beat = 1, fret = 10, pick = [5, 6] }", "{ beat = 3, fret = 6, pick = [8, 4], roll = 0.12 }")
THREE = Part.of("{ beat = 1, fret = 10, pick = [5, 6] }", "{ beat = 3, fret = 6, pick = [4, 5, 6] }")
OCTAVE = Part.of("{ beat = 1, fret = 10, pick = [5, 6] }", '{ beat = 3, fret = 6, down = ["LKR"], pick = [8, 2] }')
LONE = Part.of("{ beat = 1, fret = 3, pick = [5] }", "{ beat = 3, fret = 5, pick = [5] }")


def _instead(part: Part, strokes: Iterable[Stroke], missing: set[int]) -> list[Sounding]:
    """What is found in place of the second step's missing strings."""
    played = {(s.string, s.start_s): s for s in strokes}
    lost = [one for one in asked_of(part.score) if one.checkpoint.step == STEP and one.note.string in missing]
    sounding = [s for s in part.sounding(part.strokes()) if all(s.asked.note is not one.note for one in lost)]
    return instead(part.scene(played.values()), STEP, lost, sounding, set())


def _in_place_of(part: Part, step: int, at_s: float) -> list[Sounding]:
    """What is found in place of a step's only string when none is struck but one that nobody asked for."""
    (lost,) = (one for one in asked_of(part.score) if one.checkpoint.step == step)
    sounding = [s for s in part.sounding(part.strokes()) if s.asked.checkpoint.step != step]
    played = [stroke for (at, _), stroke in part.strokes().items() if at != step]
    scene = part.scene([*played, Stroke(8, at_s, at_s + 0.5, ((at_s, 57.4),))])
    picked_s = [s.onset.time_s for s in sounding]
    used = {i for i, m in enumerate(scene.moments) if any(abs(m.onset.time_s - at) < 0.01 for at in picked_s)}
    return instead(scene, step, [lost], sounding, used)


def _shifted(part: Part, semitones: dict[int, float]) -> list[Stroke]:
    """Everything by the book, but the second step's strings so many semitones off."""
    return [
        replace(s, knots=tuple((t, midi + semitones.get(string, 0.0)) for t, midi in s.knots)) if step == STEP else s
        for (step, string), s in part.strokes().items()
    ]


@pytest.mark.parametrize("frets", [-2.0, -1.0, 1.0, 2.0])
def test_a_grip_with_the_bar_elsewhere_has_all_its_strings_there(frets: float) -> None:
    # Strings 4 and 5 are E4 and B3; pedal A raises string 5 by two semitones (common practice, no source).
    found = _instead(GRIP, _shifted(GRIP, {4: frets, 5: frets}), {4, 5})
    assert {s.string: s.midi for s in found} == pytest.approx({4: 70.0 + frets, 5: 67.0 + frets}, abs=0.1)
    assert [s.onset.time_s for s in found] == pytest.approx([3.0, 3.0], abs=0.005)


def test_a_grip_that_is_faded_in_with_the_bar_elsewhere_has_all_its_strings_there() -> None:
    """No attack says when; its strings are an octave apart, so that the upper one has no partial of its own."""
    strokes = [replace(s, swell_s=0.3 * (s.start_s == 3.0)) for s in _shifted(FADED, {4: 1.0, 8: 1.0})]
    found = _instead(FADED, strokes, {4, 8})
    assert {s.string: s.midi for s in found} == pytest.approx({4: 71.0, 8: 59.0}, abs=0.1)
    assert [s.onset.time_s for s in found] == pytest.approx([3.0, 3.0], abs=0.05)


@pytest.mark.parametrize("frets", [-2.0, 1.0, 2.0])
def test_a_string_rolled_after_the_one_that_it_hides_behind_goes_where_that_goes(frets: float) -> None:
    """Strings 8 and 4 are an octave apart: what the second brings rings already, and grows little."""
    strokes = [replace(s, level=0.005 if s.string == 4 else s.level) for s in _shifted(ROLLED, {8: frets, 4: frets})]
    found = _instead(ROLLED, strokes, {8, 4})
    assert {s.string: s.midi for s in found} == pytest.approx({8: 58.0 + frets, 4: 70.0 + frets}, abs=0.1)
    assert {s.string: s.onset.time_s for s in found} == pytest.approx({8: 3.0, 4: 3.12}, abs=0.03)


def test_nothing_that_is_faded_in_is_nothing_in_its_place() -> None:
    assert not _instead(FADED, [s for (step, _), s in FADED.strokes().items() if step != STEP], {4, 8})


def test_a_pedal_left_up_takes_one_string_elsewhere() -> None:
    (found,) = _instead(GRIP, _shifted(GRIP, {5: -2.0}), {5})
    assert found.string == 5
    assert found.midi == pytest.approx(65.0, abs=0.1)


@pytest.mark.parametrize("neighbour", [3, 6])
def test_a_neighbour_struck_in_a_string_s_place_is_named(neighbour: int) -> None:
    # Strings 3 and 6 are G#4 and G#3.
    midi = {3: 74.0, 6: 62.0}[neighbour]
    strokes = {key: s for key, s in GRIP.strokes().items() if key != (STEP, 5)}
    other = Stroke(neighbour, 3.0, 5.0, ((3.0, midi),))
    (found,) = _instead(GRIP, [*strokes.values(), other], {5})
    assert (found.string, found.asked.note.string) == (neighbour, 5)
    assert found.midi == pytest.approx(midi, abs=0.1)


def test_what_sounds_where_another_missing_string_is_asked_for_is_that_one() -> None:
    """Of an octave the lower string is left out, and the upper one is looked for again with it. Lowered by the lever
    string 4 would sound as string 2 does."""
    played = OCTAVE.strokes()
    del played[STEP, 8]
    upper, lower = (one for one in asked_of(OCTAVE.score) if one.checkpoint.step == STEP)
    rung = [s for s in OCTAVE.sounding(played) if s.asked.checkpoint.step != STEP]
    found = instead(OCTAVE.scene(played.values()), STEP, [lower, upper], rung, set())
    assert all(one.asked is not lower for one in found)


def test_where_the_others_of_a_grip_came_one_after_the_other_a_wrong_note_is_looked_for_where_one_did() -> None:
    strokes = {key: s for key, s in THREE.strokes().items() if key != (STEP, 5)}
    strokes[STEP, 6] = replace(strokes[STEP, 6], start_s=3.3)
    played = [*strokes.values(), Stroke(2, 3.0, 5.0, ((3.0, 69.0),))]
    scene = THREE.scene(played)
    sounding = [
        replace(s, onset=min((m.onset for m in scene.moments), key=lambda onset: abs(onset.time_s - begun.start_s)))
        for s in THREE.sounding(THREE.strokes())
        if (begun := strokes.get((s.asked.checkpoint.step, s.string))) is not None
    ]
    lost = [one for one in asked_of(THREE.score) if (one.checkpoint.step, one.note.string) == (STEP, 5)]
    (found,) = instead(scene, STEP, lost, sounding, set())
    assert found.midi == pytest.approx(69.0, abs=0.1)
    assert found.onset.time_s == pytest.approx(3.0, abs=0.01)


@pytest.mark.parametrize("semitones", [-4.0, 3.4, 5.0])
def test_where_one_string_sounds_alone_any_pitch_is_heard(semitones: float) -> None:
    (found,) = _instead(LONE, _shifted(LONE, {5: semitones}), {5})
    assert found.midi == pytest.approx(64.0 + semitones, abs=0.1)


@pytest.mark.parametrize(("level", "is_found"), [(0.01, True), (0.0015, False)])
def test_what_is_far_softer_than_any_stroke_stands_in_no_string_s_place(level: float, is_found: bool) -> None:
    """It is what is left of an echo of the note before."""
    strokes = [replace(s, level=level) if s.start_s == 3.0 else s for s in _shifted(LONE, {5: -1.0})]
    assert bool(_instead(LONE, strokes, {5})) is is_found


@pytest.mark.parametrize(
    ("at_s", "is_found"), [(1.04, False), (1.3, True), (1.5, True), (1.7, True), (1.96, False), (2.04, False)]
)
def test_what_is_struck_nearer_to_another_pick_is_nothing_in_a_string_s_place(at_s: float, is_found: bool) -> None:
    beats = (1, 1.5, 2, 3)
    part = Part.of(
        *(f"{{ beat = {beat}, fret = 3, pick = [{at}] }}" for beat, at in zip(beats, (5, 6, 4, 4), strict=True))
    )
    assert bool(_in_place_of(part, 2, at_s)) == is_found


@pytest.mark.parametrize(("at_s", "is_found"), [(1.8, False), (1.95, False), (2.05, False), (2.4, True), (3.0, True)])
def test_what_is_struck_far_from_its_time_while_the_bar_moves_is_nothing_in_a_string_s_place(
    at_s: float, is_found: bool
) -> None:
    """A bar that sets out or stops makes an onset by itself."""
    part = Part.of(
        "{ beat = 1, fret = 3, pick = [5] }", "{ beat = 2, fret = 8, over = 0.1 }", "{ beat = 3, fret = 8, pick = [6] }"
    )
    assert bool(_in_place_of(part, 3, at_s)) == is_found


def test_nothing_is_found_where_nothing_was_struck() -> None:
    first = [s for (step, _), s in GRIP.strokes().items() if step == 1]
    assert _instead(GRIP, first, {4, 5}) == []
    assert _instead(GRIP, [], {4, 5}) == []


@pytest.mark.parametrize("missing", [4, 5])
def test_nothing_is_found_where_only_the_other_string_was_struck(missing: int) -> None:
    strokes = [s for key, s in GRIP.strokes().items() if key != (STEP, missing)]
    assert _instead(GRIP, strokes, {missing}) == []


def _struck(*strokes: Stroke) -> Moment:
    moments = GRIP.scene(strokes).moments
    return min(moments, key=lambda moment: abs(moment.onset.time_s - 3.0))


def test_a_new_pitch_is_new_only_if_it_was_not_there() -> None:
    ringing, struck = Stroke(6, 1.0, 5.0, ((1.0, 59.0),)), Stroke(4, 3.0, 5.0, ((3.0, 66.0),))
    moment = _struck(ringing, struck)
    assert new_presences(moment, [66.0], (59.0,), 25.0)[0] > 0.6
    assert new_presences(moment, [59.0], (66.0,), 25.0)[0] == 0.0
    assert new_presences(moment, [62.0], (66.0, 59.0), 25.0)[0] < 0.3


def test_what_cannot_be_told_from_what_is_there_is_not_believed() -> None:
    moment = _struck(Stroke(4, 3.0, 5.0, ((3.0, 66.0),)))
    for pitch in (66.3, 78.0, 85.0, 90.0):
        assert new_presences(moment, [pitch], (66.0,), 25.0)[0] == 0.0


@pytest.mark.parametrize(("level", "is_new"), [(0.1, True), (0.015, False)])
def test_in_driven_sound_what_is_much_softer_than_what_was_struck_is_not_believed(level: float, is_new: bool) -> None:
    """It may be mixtures; in clean sound it is a string."""
    moment = _struck(Stroke(6, 3.0, 5.0, ((3.0, 59.0),)), Stroke(4, 3.0, 5.0, ((3.0, 66.0),), level))
    assert new_presences(moment, [66.0], (59.0,), 25.0)[0] > 0.5
    assert (new_presences(replace(moment, driven=True), [66.0], (59.0,), 25.0)[0] > 0.5) is is_new
