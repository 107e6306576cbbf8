"""Asked picks are laid on the onsets at which their strings were struck, and on no others."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from livecheck.hearing.scene import Scene
from livecheck.hearing.sound.onset import onsets
from livecheck.hearing.strokes.picks import asked_of, lay
from tests.hearing.played import Part, Stroke, driven

PART = Part.of(
    "{ beat = 1, fret = 3, pick = [4, 5, 6] }",
    "{ beat = 3, fret = 5, pick = [5, 6] }",
    '{ beat = "7/2", fret = 8, pick = [5, 6] }',
    "{ beat = 5, pick = [8] }",
)


def _found(part: Part, strokes: Iterable[Stroke]) -> dict[tuple[int, int], float | None]:
    """(step, string) -> when the string was struck."""
    scene = part.scene(strokes)
    asked = asked_of(part.score)
    struck = lay(asked, scene.moments)
    return {
        (one.checkpoint.step, one.note.string): None if s is None else scene.moments[s.moment].onset.time_s
        for one, s in zip(asked, struck, strict=True)
    }


def _moved(strokes: dict[tuple[int, int], Stroke], step: int, by_s: float) -> dict[tuple[int, int], Stroke]:
    return {key: replace(s, start_s=s.start_s + by_s) if key[0] == step else s for key, s in strokes.items()}


def test_every_pick_is_found_when_it_came() -> None:
    strokes = PART.strokes()
    found = _found(PART, strokes.values())
    assert found == {key: pytest.approx(stroke.start_s, abs=0.005) for key, stroke in strokes.items()}


@pytest.mark.parametrize("step", [1, 2, 3, 4])
@pytest.mark.parametrize("by_s", [-0.18, 0.2])
def test_a_step_played_early_or_late_is_found_there_and_moves_no_other(step: int, by_s: float) -> None:
    strokes = _moved(PART.strokes(), step, by_s)
    found = _found(PART, strokes.values())
    assert found == {key: pytest.approx(stroke.start_s, abs=0.005) for key, stroke in strokes.items()}


@pytest.mark.parametrize("missing", [(2, 5), (2, 6), (3, 5), (3, 6), (4, 8)])
def test_only_a_string_that_was_not_struck_is_left_open(missing: tuple[int, int]) -> None:
    strokes = {key: stroke for key, stroke in PART.strokes().items() if key != missing}
    found = _found(PART, strokes.values())
    assert [key for key, time_s in found.items() if time_s is None] == [missing]


def test_what_comes_with_the_next_step_is_not_found_for_this_one() -> None:
    strokes = PART.strokes()
    del strokes[2, 5], strokes[2, 6]
    found = _found(PART, strokes.values())
    assert (found[2, 5], found[2, 6]) == (None, None)
    assert found[3, 5] == pytest.approx(3.5, abs=0.005)


@pytest.mark.parametrize("roll", [0.06, 0.12])
def test_a_rolled_grip_has_an_onset_for_each_string(roll: float) -> None:
    part = Part.of(f"{{ beat = 1, fret = 3, pick = [8, 5, 4], roll = {roll} }}")
    found = _found(part, part.strokes().values())
    assert found == {(1, string): pytest.approx(1.0 + i * roll, abs=0.006) for i, string in enumerate([8, 5, 4])}


def test_what_is_asked_comes_in_order_of_time_with_its_pitch_and_its_company() -> None:
    asked = asked_of(replace(PART.score, tuning_cents=-30.0))
    assert [(one.checkpoint.step, one.note.string) for one in asked] == sorted(PART.strokes())
    # Strings 4, 5 and 6 are E4, B3 and G#3; the bar lies at the third fret.
    assert [one.midi for one in asked[:3]] == pytest.approx([66.7, 61.7, 58.7])
    assert sorted(asked[1].others) == pytest.approx([58.7, 66.7])


def test_a_ringing_string_is_company_and_a_silenced_one_is_not() -> None:
    part = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }", "{ beat = 2, pick = [4], ring = [6] }")
    last = asked_of(part.score)[-1]
    assert last.others == pytest.approx([59.0])


def test_a_string_two_octaves_or_an_octave_above_another_hides_behind_it() -> None:
    # String 8 is E3, string 4 E4.
    part = Part.of("{ beat = 1, fret = 3, pick = [8, 5, 4] }")
    assert {one.note.string for one in asked_of(part.score) if one.hidden} == {4}
    alone = Part.of("{ beat = 1, fret = 3, pick = [5, 4] }")
    assert not any(one.hidden for one in asked_of(alone.score))


def test_strings_in_unison_are_struck_together() -> None:
    part = Part.of("{ beat = 1, fret = 5, pick = [8] }", "{ beat = 3, slant = { 4 = 3, 5 = 8 }, pick = [4, 5] }")
    strokes = part.strokes()
    assert strokes[2, 4].knots[0][1] == strokes[2, 5].knots[0][1]
    found = _found(part, strokes.values())
    assert found == {key: pytest.approx(stroke.start_s, abs=0.005) for key, stroke in strokes.items()}
    (_, upper, lower) = asked_of(part.score)
    assert upper.others == lower.others == ()
    assert not upper.hidden


@pytest.mark.parametrize("roll", ["", ", roll = 0.25"])
def test_a_rolled_grip_ends_what_rang_before_it_as_well(roll: str) -> None:
    part = Part.of('{ beat = "13/5", fret = 3, pick = [10] }', "{ beat = 3, pick = [5, 8]" + roll + " }", length=4)
    covered = {one.note.string: one.covered for one in asked_of(part.score)}
    assert list(covered[5]) == pytest.approx([50.0])


@pytest.mark.parametrize("is_struck", [True, False])
def test_what_an_octave_below_covered_is_struck_if_that_has_gone(is_struck: bool) -> None:
    """String 5 sounds an octave above string 10, which is much louder and ends with the pick, or else is touched and
    rings on more softly."""
    part = Part.of('{ beat = "13/5", fret = 3, pick = [10] }', "{ beat = 3, pick = [5, 8] }", length=4)
    strokes = part.strokes()
    low = strokes[1, 10]
    played = [replace(low, start_s=2.6, end_s=3.03, level=0.6), replace(strokes[2, 8], level=0.2)]
    played.append(replace(strokes[2, 5], level=0.06) if is_struck else replace(low, start_s=3.0, end_s=5.0, level=0.1))
    found = _found(part, played)[2, 5]
    assert found == (pytest.approx(3.0, abs=0.01) if is_struck else None)


@pytest.mark.parametrize("missing", [None, (1, 5)])
def test_in_driven_sound_mixtures_of_two_strings_are_no_third(missing: tuple[int, int] | None) -> None:
    part = Part.of("{ beat = 1, fret = 3, pick = [3, 5, 8] }")
    strokes = {key: stroke for key, stroke in part.strokes().items() if key != missing}
    recording = driven(strokes.values(), 10.0)
    scene = Scene(recording, onsets(recording), part.copedent, part.score)
    scene.mark_driven()
    struck = lay(asked_of(part.score), scene.moments)
    assert {(1, s.asked.note.string) for s in struck if s is not None} == strokes.keys()


@pytest.mark.parametrize("off", [0.0, -0.35])
@pytest.mark.parametrize("db", [-40.0, -34.0, -28.0])
def test_a_soft_tone_where_a_string_has_its_lowest_partial_is_a_knock(db: float, off: float) -> None:
    """String 10 is an octave below string 5: of its partials every second is left, and only the lowest is there. As
    soft, but with overtones, it is a string."""
    part = Part.of("{ beat = 1, fret = 3, pick = [5, 10] }")
    strokes = part.strokes()
    low = replace(strokes[1, 10], knots=((1.0, 50.0 + off),), level=strokes[1, 5].level * 10.0 ** (db / 20.0))
    knocked = _found(part, [strokes[1, 5], replace(low, partials=1)])
    assert knocked == {(1, 5): pytest.approx(1.0, abs=0.005), (1, 10): None}
    assert _found(part, [strokes[1, 5], low])[1, 10] == pytest.approx(1.0, abs=0.005)


def test_of_two_strings_at_one_pitch_what_sounds_when_the_first_is_due_is_not_the_second_struck_early() -> None:
    """Something makes an onset of its own right after the first, and the second is struck where the bar was."""
    part = Part.of("{ beat = 1, fret = 3, pick = [4] }", "{ beat = 2, fret = 8, pick = [5] }", length=2)
    (first, second), low = part.strokes().values(), 62.0
    played = [
        replace(first, end_s=1.06),
        replace(first, start_s=1.06),
        replace(second, knots=tuple((time_s, low) for time_s, _ in second.knots)),
    ]
    assert _found(part, played) == {(1, 4): pytest.approx(1.0, abs=0.01), (2, 5): None}
