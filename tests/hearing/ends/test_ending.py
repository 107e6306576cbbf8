"""Where a string ends: silenced at a known time, at its written end, or ringing on for a known time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from livecheck.hearing.curves.track import REFINE_PARTIALS
from livecheck.hearing.ends.ending import Endings
from livecheck.hearing.scene import Scene
from livecheck.hearing.sound.onset import onsets
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from tests.hearing.played import Part, Stroke, recorded, tracked

PART = Part.of("{ beat = 1, fret = 3, pick = [4, 5] }", '{ beat = 3, block = "all" }', "{ beat = 5, pick = [6] }")
SLIDE = Part.of("{ beat = 1, fret = 3, pick = [4, 5] }", "{ beat = 2, fret = 5 }", "{ beat = 3, fret = 8, pick = [6] }")
Strokes = dict[tuple[int, int], Stroke]


def _until(part: Part, string: int, end_s: float) -> Strokes:
    """By the book, but the first step's string is silenced at another time, lying under the bar until then."""
    strokes = part.strokes()
    note = strokes[1, string]
    strokes[1, string] = replace(note, end_s=end_s)
    return strokes


def _scene(part: Part, recording: Recording) -> Scene:
    return Scene(recording, onsets(recording), part.copedent, part.score)


def _ends(part: Part, strokes: Strokes) -> dict[int, float]:
    """String -> when the first step's string is heard to end."""
    scene, sounding = part.scene(strokes.values()), part.sounding(part.strokes())
    tracks = tracked(scene, sounding)
    endings = Endings(scene, sounding, tracks)
    return {one.string: endings.end_s(i) for i, one in enumerate(sounding) if one.asked.checkpoint.step == 1}


def _tails(recording: Recording, part: Part = PART) -> Sequence[float | None]:
    scene, sounding = _scene(part, recording), part.sounding(part.strokes())
    endings = Endings(scene, sounding, tracked(scene, sounding))
    return [endings.tail_db(index) for index in range(len(sounding))]


@pytest.mark.parametrize("part", [PART, SLIDE])
def test_by_the_book_strings_end_when_they_should(part: Part) -> None:
    assert _ends(part, part.strokes()) == pytest.approx({4: 3.0, 5: 3.0}, abs=0.03)


@pytest.mark.parametrize("string", [4, 5])
@pytest.mark.parametrize("silenced_s", [1.5, 2.0, 2.5])
def test_a_string_silenced_too_soon_ends_then_and_the_other_rings(string: int, silenced_s: float) -> None:
    found = _ends(PART, _until(PART, string, silenced_s))
    assert found == pytest.approx({4: 3.0, 5: 3.0} | {string: silenced_s}, abs=0.08)


@pytest.mark.parametrize("silenced_s", [3.4, 4.0])
def test_a_string_upon_whose_loudest_partials_another_one_comes_is_not_silenced(silenced_s: float) -> None:
    """A pedal takes string 10 from 52 to 49.5, whose third and sixth partial lie where string 1 has its first two, the
    only ones that it has: they are heard no more, but nothing of what else there might be of it has gone."""
    part = Part.of("{ beat = 1, fret = 3, down = ['A'], pick = [1, 10] }", "{ beat = 3, down = { LKV = 0.5 } }")
    strokes = part.strokes()
    strokes[1, 1] = replace(strokes[1, 1], partials=2)
    assert _ends(part, strokes)[1] == pytest.approx(part.strokes()[1, 1].end_s, abs=0.03)
    both = part.strokes()
    both[1, 1] = replace(both[1, 1], end_s=silenced_s)
    assert _ends(part, both)[1] == pytest.approx(silenced_s, abs=0.1)


@pytest.mark.parametrize("semitones", [0.0, 12.0, 19.02])
def test_what_holds_one_of_its_partials_up_does_not_hide_that_a_string_was_silenced(semitones: float) -> None:
    """Something that nobody looks for sounds on where the string has its first, second or third partial."""
    strokes = _until(PART, 5, 2.0)
    midi = strokes[1, 5].knots[0][1] + semitones
    strokes[9, 9] = Stroke(9, 1.0, 7.0, ((1.0, midi),), level=0.2, partials=1)
    assert _ends(PART, strokes) == pytest.approx({4: 3.0, 5: 2.0}, abs=0.08)


@pytest.mark.parametrize("dying", [6.0, 9.0, 12.0])
@pytest.mark.parametrize("fret", [15, 20, 24])
def test_a_high_string_whose_upper_partials_die_away_at_once_is_not_silenced(fret: int, dying: float) -> None:
    part = Part.of(f"{{ beat = 1, fret = {fret}, pick = [3, 5] }}", '{ beat = 3, block = "all" }')
    strokes = {key: replace(stroke, dying=dying) for key, stroke in part.strokes().items()}
    assert all(found_s > 1.9 for found_s in _ends(part, strokes).values())


@pytest.mark.parametrize(("gain_db", "silenced"), [(0.0, False), (2.0, False), (-4.0, False), (-12.0, True)])
def test_a_string_of_which_one_partial_is_left_is_silenced_where_that_falls(gain_db: float, silenced: bool) -> None:
    """Another string comes upon all the others, from 2.0 s on, and little of what it calls for is found any more."""
    scene, sounding = PART.scene(PART.strokes().values()), PART.sounding(PART.strokes())
    one, track = sounding[0], tracked(scene, sounding)[0]
    since = scene.spectra.times_s[track.first : track.stop] >= 2.0
    partials_db = np.where(since[:, None], np.nan, np.linspace(-30.0, -60.0, REFINE_PARTIALS))
    partials_db[:, -1] = np.where(since, -60.0 + gain_db, -60.0)
    drawn = replace(
        track,
        db=np.full(len(since), -35.0),
        middle_db=np.where(since, -60.0 + gain_db, -42.0),
        partials_db=partials_db,
        support=np.where(since, 0.2, 1.0),
    )
    ended_s = Endings(scene, [one], [drawn]).end_s(0)
    assert ended_s == pytest.approx(2.0 if silenced else one.stop_s, abs=0.05)


@pytest.mark.parametrize("string", [4, 5])
@pytest.mark.parametrize("over_s", [0.4, 0.8, 1.5])
def test_a_string_that_no_block_silenced_rings_on_and_the_other_does_not(string: int, over_s: float) -> None:
    found = _ends(PART, _until(PART, string, 3.0 + over_s))
    assert found[string] == pytest.approx(3.0 + over_s, abs=0.15)
    assert found[9 - string] == pytest.approx(3.0, abs=0.03)


def test_a_string_that_rings_on_under_a_later_pick_is_heard_there() -> None:
    """String 5 goes on when string 6 is picked, five semitones higher with the bar."""
    strokes = SLIDE.strokes()
    strokes[1, 5] = replace(strokes[1, 5], end_s=3.9, knots=(*strokes[1, 5].knots[:-1], (2.9, 64.0), (3.0, 67.0)))
    found = _ends(SLIDE, strokes)
    assert found[5] == pytest.approx(3.9, abs=0.15)
    assert found[4] == pytest.approx(3.0, abs=0.03)


@pytest.mark.parametrize("fret", [0, 2])
def test_a_low_string_that_rings_on_beside_its_neighbour_is_heard(fret: int) -> None:
    """The pedal brings string 10 within a semitone of string 9."""
    part = Part.of(
        f"{{ beat = 1, fret = {fret}, pick = [9] }}", f'{{ beat = 3, fret = {fret}, down = ["A"], pick = [10] }}'
    )
    assert _ends(part, part.strokes())[9] == pytest.approx(3.0, abs=0.03)
    assert _ends(part, _until(part, 9, 3.5))[9] == pytest.approx(3.5, abs=0.15)


@pytest.mark.parametrize("string", [4, 5])
def test_a_string_that_rings_on_is_heard_where_the_hand_rests_a_little_off(string: int) -> None:
    strokes = _until(PART, string, 3.9)
    here = strokes[1, string].knots[0][1]
    strokes[1, string] = replace(strokes[1, string], knots=((2.9, here), (3.05, here + 0.2)))
    found = _ends(PART, strokes)
    assert found[string] == pytest.approx(3.9, abs=0.15)
    assert found[9 - string] == pytest.approx(3.0, abs=0.03)


@pytest.mark.parametrize("string", [4, 8])
def test_of_two_strings_an_octave_apart_the_one_that_rings_on_is_heard(string: int) -> None:
    """String 4 hides behind string 8: of each the other has half the partials, or all."""
    part = Part.of("{ beat = 1, fret = 3, pick = [4, 8] }", "{ beat = 3, pick = [6] }")
    strokes = part.strokes()
    assert _ends(part, strokes) == pytest.approx({4: 3.0, 8: 3.0}, abs=0.03)
    strokes[1, string] = replace(strokes[1, string], end_s=3.9)
    assert _ends(part, strokes) == pytest.approx({4: 3.0, 8: 3.0} | {string: 3.9}, abs=0.15)


@pytest.mark.parametrize("fret", [12, 15])
def test_a_string_that_rings_on_is_heard_where_a_fast_move_takes_it(fret: int) -> None:
    """While it moves it cannot be made out."""
    move = f"{{ beat = 3.5, fret = {fret}, over = 0.35 }}"
    part = Part.of("{ beat = 1, fret = 3, pick = [3] }", "{ beat = 3, pick = [1] }", move)
    strokes = part.strokes()
    here = strokes[1, 3].knots[0][1]
    knots = ((1.0, here), (3.15, here), (3.5, here + fret - 3))
    strokes[1, 3] = replace(strokes[1, 3], end_s=4.3, knots=knots)
    assert _ends(part, strokes)[3] == pytest.approx(4.3, abs=0.15)


@pytest.mark.parametrize("fret", [5, 9])
def test_a_string_that_rings_on_and_sets_out_with_the_bar_before_its_end_was_not_silenced_then(fret: int) -> None:
    """Nobody looks for it on its way to where the next pick has the bar, so that it seems to fall silent."""
    part = Part.of("{ beat = 1, fret = 15, pick = [4, 5] }", f"{{ beat = 3, fret = {fret}, pick = [6, 8] }}")
    strokes = _until(part, 5, 3.9)
    here = strokes[1, 5].knots[0][1]
    strokes[1, 5] = replace(strokes[1, 5], knots=((2.76, here), (3.02, here + fret - 15)))
    strokes[1, 4] = replace(strokes[1, 4], end_s=2.8)
    found = _ends(part, strokes)
    assert found[5] == pytest.approx(3.9, abs=0.15)
    assert found[4] == pytest.approx(2.8, abs=0.08)


@pytest.mark.parametrize("off", [-0.4, -0.15, 0.0, 0.15])
def test_the_octave_of_a_string_is_no_string_that_rings_on(off: float) -> None:
    """The bar goes a little flat, or sharp, just before string 6 is picked, an octave below string 3."""
    part = Part.of("{ beat = 1, fret = 3, pick = [3, 5] }", "{ beat = 3, pick = [6, 4] }")
    strokes = {
        key: replace(one, knots=((2.75, one.knots[0][1]), (2.95, one.knots[0][1] + off)))
        for key, one in part.strokes().items()
    }
    assert _ends(part, strokes) == pytest.approx({3: 3.0, 5: 3.0}, abs=0.03)


@pytest.mark.parametrize("silenced_s", [1.5, 2.0])
def test_a_string_silenced_before_another_is_struck_while_it_should_ring_ended_then(silenced_s: float) -> None:
    """The noise of the other's attack has some of every partial that the string would have."""
    part = Part.of(
        "{ beat = 1, fret = 4, pick = [8] }", "{ beat = 2.5, pick = [6], ring = true }", "{ beat = 3, pick = [5] }"
    )
    strokes = _until(part, 8, silenced_s)
    noise = 0.05 * np.random.default_rng(4).standard_normal(round(0.01 * WORK_RATE_HZ)).astype(np.float32)
    recording = recorded(strokes.values())
    samples = recording.slice(0, len(recording)).copy()
    samples[round(2.5 * WORK_RATE_HZ) :][: len(noise)] += noise
    struck = Recording()
    struck.append(samples)
    scene, sounding = _scene(part, struck), part.sounding(part.strokes())
    endings = Endings(scene, sounding, tracked(scene, sounding))
    assert endings.end_s(0) == pytest.approx(silenced_s, abs=0.08)


def test_a_string_that_fades_by_itself_is_not_silenced() -> None:
    """It loses 20 dB a second, more than strings do; silenced it would lose as much in a hundredth of a second."""
    recording = recorded(PART.strokes().values())
    faded = Recording()
    times_s = np.arange(len(recording)) / WORK_RATE_HZ
    fading = 10.0 ** (-np.clip(times_s - 1.0, 0.0, 2.0) * 20.0 / 20.0) * (times_s < 3.0)
    faded.append(np.asarray(recording.slice(0, len(recording)) * fading, dtype=np.float32))
    scene, sounding = _scene(PART, faded), PART.sounding(PART.strokes())[:2]
    endings = Endings(scene, sounding, tracked(scene, sounding))
    assert [endings.end_s(0), endings.end_s(1)] == pytest.approx([3.0, 3.0], abs=0.03)


def test_what_is_silenced_leaves_nothing() -> None:
    four, five, last = _tails(recorded(PART.strokes().values()))
    assert four is not None
    assert five is not None
    assert max(four, five) < -50.0
    assert last is None  # it rings to the figure's end: nothing silences it


def _in_a_room(dry: Recording, wet_db: float) -> Recording:
    """With reflections over half a second that fade by a tenth every 0.05 s, together so loud beside the strings."""
    samples = dry.slice(0, len(dry))
    gaps_s = 0.3 + 0.037 * np.arange(14)
    gains = 0.9 ** (gaps_s / 0.05)
    gains *= 10.0 ** (wet_db / 20.0) / np.sqrt(np.sum(gains**2))
    wet = samples.copy()
    for gap_s, gain in zip(gaps_s, gains, strict=True):
        by = round(gap_s * WORK_RATE_HZ)
        wet[by:] += np.float32(gain) * samples[:-by]
    recording = Recording()
    recording.append(wet)
    return recording


def test_a_room_leaves_a_tail_as_loud_as_the_room() -> None:
    dry = recorded(PART.strokes().values())
    near, far = (_tails(_in_a_room(dry, wet_db)) for wet_db in (-10.0, -20.0))
    for louder, softer in zip(near[:2], far[:2], strict=True):
        assert louder is not None
        assert softer is not None
        assert louder - softer == pytest.approx(10.0, abs=2.0)
        assert -40.0 < louder < 0.0
