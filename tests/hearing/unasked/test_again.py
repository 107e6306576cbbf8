"""Which ringing strings were struck again at an onset that nothing else explains."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from livecheck.hearing.scene import Scene
from livecheck.hearing.sound.onset import onsets
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.unasked.again import struck_again
from tests.hearing.played import Part, Stroke, driven, tracked
from tests.hearing.tones import Samples, laid

ONE = Part.of("{ beat = 1, fret = 3, pick = [5] }")
TWO = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }")
WIDE = Part.of("{ beat = 1, fret = 3, pick = [5, 8] }")
THREE = Part.of("{ beat = 1, fret = 3, pick = [4, 5, 6] }")
# Strings 3 and 4 are an octave above 6 and 8.
FOUR = Part.of("{ beat = 1, fret = 3, pick = [3, 4, 6, 8] }")
OCTAVE = Part.of("{ beat = 1, fret = 3, pick = [4, 8] }")
GLIDE = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }", "{ beat = 3, fret = 8, over = 0.5 }")
LATER = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }", "{ beat = 4, fret = 3, pick = [4], ring = true }")
# String 4 is lowered to string 2.
UNISON = Part.of('{ beat = 1, fret = 3, pick = [2, 4, 6], down = ["LKR"] }')


# String 4 comes down to the octave above string 8.
INTO_OCTAVE = Part.of('{ beat = 1, fret = 3, down = ["C"], pick = [4, 8] }', "{ beat = 2, down = [] }")


def _beside_a_low_one(string: int) -> Part:
    """String 10 is a C2: at fret 3 it has a partial within 39 Hz of whatever another string sounds."""
    return Part.of(f"{{ beat = 1, fret = 3, pick = [{string}, 10] }}", copedent="c6-ten-string")


def _cut(part: Part, at_s: float, strings: Iterable[int], level: float = 0.1) -> list[Stroke]:
    """A part in which strings of the first step are struck again at a time, which ends what they sounded until then."""
    played = []
    for (step, string), one in part.strokes().items():
        if step == 1 and string in strings:
            played += [
                Stroke(string, one.start_s, at_s, one.knots),
                Stroke(string, at_s, one.end_s, one.knots, level),
            ]
        else:
            played.append(one)
    return played


def _touched(part: Part, at_s: float, string: int, level: float, swell_s: float = 0.01) -> list[Stroke]:
    """A part in which a string is touched softly while it rings on."""
    one = part.strokes()[1, string]
    return [*part.strokes().values(), Stroke(string, at_s, one.end_s, one.knots, level, swell_s)]


def _bright(stroke: Stroke) -> Samples:
    times_s = np.arange(round((stroke.end_s - stroke.start_s) * WORK_RATE_HZ)) / WORK_RATE_HZ
    hz = 440.0 * 2.0 ** ((stroke.midi_at(stroke.start_s + times_s) - 69.0) / 12.0)
    phase = 2.0 * np.pi * np.cumsum(hz) / WORK_RATE_HZ
    sound = sum((np.sin(number * phase) / number for number in range(1, 30)), np.zeros(len(times_s)))
    ends = np.minimum(times_s / 0.004, 1.0) * np.clip((times_s[-1] - times_s) / 0.03, 0.0, 1.0)
    return np.asarray(0.1 * sound * np.exp(-0.25 * times_s) * ends, dtype=np.float32)


def _chord(at_s: float, level: float, swell_s: float = 0.0) -> list[Stroke]:
    """Tones of another player, none of which is a string's."""
    return [Stroke(0, at_s, at_s + 0.5, ((at_s, midi),), level, swell_s) for midi in (53.5, 57.4, 72.6)]


def _again(part: Part, played: Sequence[Stroke], background: bool = False) -> dict[int, list[float]]:
    """For each string that was struck again when it was."""
    scene = part.scene(played)
    assert scene.has_background == background
    return _again_in(scene, part)


def _again_in(scene: Scene, part: Part) -> dict[int, list[float]]:
    sounding = part.sounding(part.strokes())
    starts = {one.onset.time_s for one in sounding}
    used = {i for i, m in enumerate(scene.moments) if any(abs(m.onset.time_s - s) < 0.01 for s in starts)}
    again = struck_again(scene, sounding, tracked(scene, sounding), (), used)
    return {
        one.string: [onset.time_s for onset in onsets] for one, onsets in zip(sounding, again, strict=True) if onsets
    }


def _at(at_s: float, *strings: int) -> dict[int, object]:
    return {string: [pytest.approx(at_s, abs=0.025)] for string in strings}


@pytest.mark.parametrize(("level", "count"), [(0.1, 1), (0.0, 0)])
def test_a_string_whose_odd_partials_were_soft_when_it_was_struck_was_struck_then(level: float, count: int) -> None:
    """Plucked near its middle at first, and elsewhere when it is struck again, as the octave above leaves it only these
    partials: of a string that was not struck at first there was nothing else either."""
    strokes = INTO_OCTAVE.strokes()
    lower = strokes[1, 8]
    (begin_s, midi), *_ = lower.knots
    even = Stroke(8, begin_s, 3.0, ((begin_s, midi + 12.0),), level)
    odd = Stroke(8, begin_s, 3.0, lower.knots, 0.004)
    played = [strokes[1, 4], even, odd, Stroke(8, 3.0, lower.end_s, lower.knots)]
    assert _again(INTO_OCTAVE, played) == (_at(3.0, 8) if count else {})


@pytest.mark.parametrize("string", [5, 6])
@pytest.mark.parametrize("at_s", [1.5, 2.2, 2.65, 2.85, 4.0])
def test_one_of_two_strings_is_told_from_the_other_at_rest_and_on_the_way(string: int, at_s: float) -> None:
    assert _again(GLIDE, _cut(GLIDE, at_s, [string])) == _at(at_s, string)


@pytest.mark.parametrize(("strings", "fret"), [((9, 3), 12), ((9, 3), 14), ((3, 8), 12), ((3, 8), 14)])
def test_a_glide_so_fast_that_it_is_an_onset_of_its_own_strikes_nothing(strings: tuple[int, int], fret: int) -> None:
    """On its way a string is a smear; it seems to grow as it arrives."""
    rush = Part.of(f"{{ beat = 1, fret = 2, pick = {list(strings)} }}", f"{{ beat = 2, fret = {fret}, over = 0.15 }}")
    assert _again(rush, list(rush.strokes().values())) == {}
    assert _again(rush, _cut(rush, 2.0, strings)) == _at(2.0, *strings)


@pytest.mark.parametrize(
    ("string", "frets", "over"), [(4, (12, 9), 0.16), (1, (5, 9), 0.12), (1, (8, 13), 0.2), (4, (8, 13), 0.3)]
)
def test_a_bright_string_on_its_way_is_not_struck(string: int, frets: tuple[int, int], over: float) -> None:
    """As many partials as a sawtooth has rise in a short spectrum wherever they go."""
    here, there = frets
    part = Part.of(
        f"{{ beat = 1, fret = {here}, pick = [{string}] }}", f"{{ beat = 2, fret = {there}, over = {over} }}"
    )
    (stroke,) = part.strokes().values()
    recording = laid([(stroke.start_s, _bright(stroke))], 8.0)
    scene = Scene(recording, onsets(recording), part.copedent, part.score)
    assert any(2.0 - over < moment.onset.time_s < 2.0 for moment in scene.moments)
    assert _again_in(scene, part) == {}


@pytest.mark.parametrize("at_s", [1.3, 2.2, 3.5])
def test_of_a_grip_of_three_the_whole_is_told_as_well_as_one_string(at_s: float) -> None:
    assert _again(THREE, _cut(THREE, at_s, [4, 5, 6])) == _at(at_s, 4, 5, 6)
    assert _again(THREE, _cut(THREE, at_s, [5])) == _at(at_s, 5)


@pytest.mark.parametrize("at_s", [1.4, 2.2, 3.0, 4.5])
@pytest.mark.parametrize("strings", [[8], [4], [4, 8]])
def test_of_an_octave_each_string_is_told(strings: list[int], at_s: float) -> None:
    assert _again(OCTAVE, _cut(OCTAVE, at_s, strings)) == _at(at_s, *strings)


@pytest.mark.parametrize(("strings", "told"), [([3, 4, 6, 8], [3, 4, 6, 8]), ([6], [6]), ([3, 6], [6])])
def test_of_a_grip_of_four_two_that_hide_are_told_where_the_others_were(strings: list[int], told: list[int]) -> None:
    """Of a string that hides behind one alone that was struck, nothing is said."""
    assert _again(FOUR, _cut(FOUR, 2.2, strings)) == _at(2.2, *told)


@pytest.mark.parametrize("string", [4, 5, 6])
@pytest.mark.parametrize("at_s", [1.5, 2.2])
def test_a_string_that_loses_by_its_own_stroke_is_told_by_what_that_brings(string: int, at_s: float) -> None:
    """Struck elsewhere along the string it has one partial that it lacked, and less of all others."""
    played = _cut(THREE, at_s, [string], level=0.04)
    struck = next(one for one in played if one.start_s == at_s)
    (_, midi), *_ = struck.knots
    partial = replace(struck, knots=((at_s, midi + 12.0),), level=0.12, partials=1)
    assert _again(THREE, [*played, partial]) == _at(at_s, string)


def test_a_soft_attack_is_a_stroke_where_the_string_comes_back_to_what_it_was() -> None:
    """Another one, by which a string that has faded far grows a little, is none."""
    assert _again(TWO, _touched(TWO, 4.0, 5, 0.05, swell_s=0.03)) == _at(4.0, 5)
    assert _again(TWO, _touched(TWO, 4.0, 5, 0.025)) == {}


@pytest.mark.parametrize(("before_s", "count"), [(0.05, 0), (0.2, 1)])
def test_right_before_a_pick_nothing_is_told_of_a_string_that_rings(before_s: float, count: int) -> None:
    """What sounds after such an onset is the pick's already."""
    assert len(_again(LATER, _cut(LATER, 4.0 - before_s, [5]))) == count


@pytest.mark.parametrize(("after_s", "count"), [(0.06, 0), (0.2, 1)])
def test_right_after_a_pick_its_own_string_is_not_struck_again(after_s: float, count: int) -> None:
    """What sounded before such an onset sounded before the pick."""
    assert len(_again(TWO, _cut(TWO, 1.0 + after_s, [5], level=0.2))) == count


@pytest.mark.parametrize("at_s", [1.5, 2.2])
@pytest.mark.parametrize("strings", [[4, 5], [4, 6], [5, 6]])
def test_of_a_grip_of_three_the_string_that_fades_on_is_left_out(strings: list[int], at_s: float) -> None:
    """Half a second after it was struck it is little softer than it was."""
    assert _again(THREE, _cut(THREE, at_s, strings)) == _at(at_s, *strings)


@pytest.mark.parametrize(("level", "count"), [(0.045, 0), (0.1, 1)])
def test_beside_others_a_soft_attack_must_bring_a_string_no_less_than_a_clear_one(level: float, count: int) -> None:
    """A chord of theirs raises what rings beside it."""
    theirs = [tone for at_s in (5.0, 5.3, 5.6, 5.9, 6.2, 6.5) for tone in _chord(at_s, 0.004)]
    played = [*_touched(TWO, 1.6, 5, level), *_chord(1.6, 0.03, swell_s=0.01), *theirs]
    assert len(_again(TWO, played, background=True)) == count


@pytest.mark.parametrize("at_s", [3.0, 4.0])
def test_beside_others_a_string_must_come_back_to_what_it_was(at_s: float) -> None:
    """Another player's tone at its pitch raises it as well, by nothing but its own partials."""
    theirs = [tone for at_s in (5.0, 5.3, 5.6, 5.9, 6.2, 6.5) for tone in _chord(at_s, 0.004)]
    ((_, midi), *_) = ONE.strokes()[1, 5].knots
    another = Stroke(0, at_s, at_s + 0.5, ((at_s, midi),), 0.03)
    assert _again(ONE, [*ONE.strokes().values(), another, *theirs], background=True) == {}
    assert _again(ONE, [*_cut(ONE, at_s, [5], 0.07), *theirs], background=True) == _at(at_s, 5)
    # By one that came back it was the player's own hand, whatever the others did.
    softer = [Stroke(one.string, one.start_s, one.end_s, one.knots, 0.04) for one in _cut(TWO, at_s, [6])[-1:]]
    both = [*(one for one in _cut(TWO, at_s, [5, 6]) if one.string == 5 or one.start_s < at_s), *softer]
    assert _again(TWO, [*both, *theirs], background=True) == _at(at_s, 5, 6)


@pytest.mark.parametrize(("strings", "told"), [([2, 4], [2, 4]), ([4], [2, 4]), ([6], [6]), ([2, 4, 6], [2, 4, 6])])
def test_strings_in_unison_are_told_together(strings: list[int], told: list[int]) -> None:
    assert _again(UNISON, _cut(UNISON, 3.0, strings)) == _at(3.0, *told)


@pytest.mark.parametrize("at_s", [1.6, 1.8, 2.5])
@pytest.mark.parametrize("strings", [[], [5]])
def test_a_string_that_a_limiter_leaves_nothing_to_grow_by_is_told(at_s: float, strings: list[int]) -> None:
    recording = driven(_cut(ONE, at_s, strings), 30.0)
    scene = Scene(recording, onsets(recording), ONE.copedent, ONE.score)
    assert _again_in(scene, ONE) == _at(at_s, *strings)


@pytest.mark.parametrize(
    ("part", "strings"),
    [(TWO, [5, 6]), (TWO, [5]), (TWO, [6]), (WIDE, [5, 8]), (WIDE, [5]), (WIDE, [8]), (THREE, [4, 5, 6]), (THREE, [])],
)
@pytest.mark.parametrize("at_s", [1.5, 1.8, 2.5])
def test_of_strings_that_are_driven_together_those_that_lose_nothing_were_struck(
    part: Part, strings: list[int], at_s: float
) -> None:
    """What a limiter gives one it takes from the others; what they mix to is none of other players."""
    recording = driven(_cut(part, at_s, strings), 10.0)
    scene = Scene(recording, onsets(recording), part.copedent, part.score)
    scene.mark_driven()
    assert _again_in(scene, part) == _at(at_s, *strings)


def test_what_beats_in_driven_sound_is_not_struck() -> None:
    recording = driven(THREE.strokes().values(), 30.0)
    scene = Scene(recording, onsets(recording), THREE.copedent, THREE.score)
    scene.mark_driven()
    assert _again_in(scene, THREE) == {}


@pytest.mark.parametrize("string", [1, 2])
@pytest.mark.parametrize("at_s", [2.2, 3.5])
def test_a_string_is_told_from_a_low_one_that_has_partials_beside_all_of_its_own(string: int, at_s: float) -> None:
    part = _beside_a_low_one(string)
    assert _again(part, _cut(part, at_s, [string])) == _at(at_s, string)
    assert _again(part, _cut(part, at_s, [10])) == _at(at_s, 10)


def test_a_string_of_which_nothing_can_be_told_tells_nothing_of_another() -> None:
    """A knock raises the low string by a third of a decibel."""
    part = _beside_a_low_one(1)
    assert _again(part, [*_touched(part, 1.8, 10, 0.02), *_chord(1.8, 0.03, swell_s=0.005)]) == {}


@pytest.mark.parametrize("at_s", [1.3, 1.6, 2.0])
def test_what_is_so_much_louder_than_when_it_was_struck_is_struck_then(at_s: float) -> None:
    """What was taken for the pick of string 5 was hardly a sound of it."""
    strokes = TWO.strokes()
    one = strokes.pop((1, 5))
    played = [*strokes.values(), replace(one, end_s=at_s, level=0.008), replace(one, start_s=at_s)]
    assert _again(TWO, played) == {}


@pytest.mark.parametrize(("strings", "found"), [([4, 8], {4, 8}), ([8], {8})])
def test_of_an_octave_the_upper_string_was_struck_too_if_it_grew_by_far_more_than_the_lower(
    strings: list[int], found: set[int]
) -> None:
    """It had faded nearly to nothing, and the lower one is struck harder than before."""
    upper, lower = (OCTAVE.strokes()[1, string] for string in (4, 8))
    played = [
        replace(upper, end_s=2.5, dying=3.0),
        replace(lower, end_s=2.5),
        *(
            replace(one, start_s=2.5, level=0.25 if one is lower else 0.12)
            for one in (upper, lower)
            if one.string in strings
        ),
    ]
    assert set(_again(OCTAVE, played)) == found
