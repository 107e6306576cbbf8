"""Listening to whole figures: every string with its pick, its curve and its end, whatever else goes on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.listening import Listener
from livecheck.hearing.score import TimedScore
from livecheck.hearing.sound.onset import onsets
from tests.hearing.played import Part, Stroke, recorded

EVERYWHERE = (-np.inf, np.inf)
PART = Part.of(
    "{ beat = 1, fret = 3, pick = [5, 6] }",
    "{ beat = 2, fret = 5, over = 0.3 }",
    '{ beat = 3, down = ["A"], over = 0.4 }',
    "{ beat = 4, fret = 8, pick = [4, 5, 6] }",
    "{ beat = 5, block = [5] }",
    '{ beat = "11/2", fret = 6, pick = [8] }',
)
Strokes = dict[tuple[int, int], Stroke]


def _listener(part: Part, strokes: Iterable[Stroke], duration_s: float = 8.0) -> Listener:
    recording = recorded(strokes, duration_s)
    return Listener(recording, onsets(recording), part.copedent)


def _hear(part: Part, strokes: Iterable[Stroke], score: TimedScore | None = None) -> list[HeardNote]:
    return _listener(part, strokes).hear(score or part.score, *EVERYWHERE)


def _by_key(notes: Iterable[HeardNote]) -> dict[tuple[int | None, float], HeardNote]:
    """(string, start to a tenth of a second) -> note."""
    return {(note.string, round(note.start_s, 1)): note for note in notes}


def _keys(strokes: Iterable[Stroke]) -> set[tuple[int | None, float]]:
    return {(stroke.string, round(stroke.start_s, 1)) for stroke in strokes}


def _pitches(heard: dict[tuple[int | None, float], HeardNote]) -> list[tuple[float, float]]:
    """(start, pitch right after it) of every note."""
    found = []
    for (_, start_s), note in heard.items():
        midi = note.median_midi(note.start_s + 0.06, note.start_s + 0.3)
        assert midi is not None
        found.append((start_s, midi))
    return found


def _is_like(note: HeardNote, stroke: Stroke) -> None:
    """The same pick, end and curve: the glides to a fifth of a tone, the levels to three cents."""
    assert note.start_s == pytest.approx(stroke.start_s, abs=0.006)
    assert note.end_s == pytest.approx(stroke.end_s, abs=0.04)
    times_s, midis = note.curve(stroke.start_s + 0.06, stroke.end_s - 0.06)
    off_cents = 100.0 * np.abs(midis - stroke.midi_at(times_s))
    assert np.median(off_cents) < 3.0
    assert np.percentile(off_cents, 95) < 40.0


def test_a_figure_by_the_book_is_heard_as_it_was_played() -> None:
    strokes = PART.strokes()
    heard = _by_key(_hear(PART, strokes.values()))
    assert set(heard) == _keys(strokes.values())
    for stroke in strokes.values():
        _is_like(heard[stroke.string, round(stroke.start_s, 1)], stroke)


@pytest.mark.parametrize("cents", [-38.0, 24.0])
def test_a_take_tuned_elsewhere_is_heard_as_it_sounds(cents: float) -> None:
    strokes = {
        key: replace(s, knots=tuple((t, midi + cents / 100.0) for t, midi in s.knots))
        for key, s in PART.strokes().items()
    }
    heard = _by_key(_hear(PART, strokes.values(), replace(PART.score, tuning_cents=cents)))
    assert set(heard) == _keys(strokes.values())
    for stroke in strokes.values():
        _is_like(heard[stroke.string, round(stroke.start_s, 1)], stroke)


@pytest.mark.parametrize("missing", [(4, 4), (4, 5), (4, 6), (6, 8)])
def test_a_string_that_was_not_struck_is_not_heard(missing: tuple[int, int]) -> None:
    strokes = {key: stroke for key, stroke in PART.strokes().items() if key != missing}
    assert set(_by_key(_hear(PART, strokes.values()))) == _keys(strokes.values())


@pytest.mark.parametrize("late_s", [-0.15, 0.2, 0.4])
def test_a_slide_is_heard_when_it_came(late_s: float) -> None:
    strokes = PART.strokes()
    for string in (5, 6):
        stroke = strokes[1, string]
        moved = tuple((t + late_s if 1.5 < t < 2.5 else t, midi) for t, midi in stroke.knots)
        strokes[1, string] = replace(stroke, knots=moved)
    heard = _by_key(_hear(PART, strokes.values()))
    assert set(heard) == _keys(strokes.values())
    for string in (5, 6):
        _is_like(heard[string, 1.0], strokes[1, string])


def test_a_pedal_that_was_not_pressed_leaves_its_string_where_it_was() -> None:
    strokes = PART.strokes()
    strokes[1, 5] = replace(strokes[1, 5], knots=((1.0, 62.0), (1.7, 62.0), (2.0, 64.0)))
    _is_like(_by_key(_hear(PART, strokes.values()))[5, 1.0], strokes[1, 5])


@pytest.mark.parametrize(("step", "string", "neighbour", "midi"), [(4, 5, 1, 74.0), (6, 8, 10, 55.0)])
def test_another_string_struck_instead_is_heard_in_its_place(
    step: int, string: int, neighbour: int, midi: float
) -> None:
    """Strings 1 and 10 are F#4 and B2, under the bar at the eighth and sixth fret; pedal A raises string 10 by two
    semitones (common practice, no source)."""
    strokes = PART.strokes()
    begin = strokes[step, string].start_s
    strokes[step, string] = replace(strokes[step, string], string=neighbour, knots=((begin, midi),))
    heard = _by_key(_hear(PART, strokes.values()))
    assert {(start_s, round(m, 1)) for start_s, m in _pitches(heard)} == {
        (round(s.start_s, 1), round(float(s.midi_at(s.start_s)), 1)) for s in strokes.values()
    }


def test_a_string_silenced_too_soon_ends_then() -> None:
    strokes = PART.strokes()
    strokes[1, 6] = replace(strokes[1, 6], end_s=2.4)
    heard = _by_key(_hear(PART, strokes.values()))
    assert heard[6, 1.0].end_s == pytest.approx(2.4, abs=0.08)
    assert heard[5, 1.0].end_s == pytest.approx(4.0, abs=0.02)


def test_a_string_struck_twice_is_two_notes() -> None:
    strokes = PART.strokes()
    first = strokes[1, 6]
    strokes[1, 6] = replace(first, end_s=3.4)
    again = replace(first, start_s=3.4)
    heard = _by_key(_hear(PART, [*strokes.values(), again]))
    assert set(heard) == _keys([*strokes.values(), again])
    assert heard[6, 1.0].end_s == pytest.approx(3.4, abs=0.006)


@pytest.mark.parametrize("over_s", [0.12, 0.15, 0.2])
def test_strings_struck_again_as_they_set_out_are_on_their_way(over_s: float) -> None:
    """Nothing is clear of them until they arrive, which is not when they were struck."""
    part = Part.of("{ beat = 1, fret = 10, pick = [4, 5, 6] }", f"{{ beat = 3, fret = 3, over = {over_s} }}")
    again_s = 3.0 - over_s + 0.005
    first = part.strokes().values()
    again = [replace(stroke, start_s=again_s) for stroke in first]
    heard = _by_key(_hear(part, [*(replace(stroke, end_s=again_s) for stroke in first), *again]))
    for stroke in again:
        times_s, midis = heard[stroke.string, round(again_s, 1)].curve(again_s, 3.0)
        assert np.abs(midis - stroke.midi_at(times_s)).max() < 1.5


def test_a_string_that_was_faded_in_is_heard() -> None:
    part = Part.of(
        "{ beat = 1, fret = 3, pick = [6] }", "{ beat = 3, fret = 3, pick = [5], ring = true, swell = true }"
    )
    strokes = part.strokes()
    strokes[2, 5] = replace(strokes[2, 5], swell_s=0.3)
    notes = {note.string: note for note in _hear(part, strokes.values())}
    assert set(notes) == {5, 6}
    assert 2.95 <= notes[5].start_s <= 3.3
    assert notes[5].median_midi(3.5, 5.0) == pytest.approx(62.0, abs=0.03)


def test_vibrato_is_heard_around_its_centre() -> None:
    strokes = PART.strokes()
    times_s = np.arange(5.6, 6.9, 0.005)
    midis = 58.0 + 0.25 * np.sin(2.0 * np.pi * 5.5 * (times_s - 5.6))
    strokes[6, 8] = replace(strokes[6, 8], knots=((5.5, 58.0), *zip(times_s.tolist(), midis.tolist(), strict=True)))
    note = _by_key(_hear(PART, strokes.values()))[8, 5.5]
    times_s, heard = note.curve(5.7, 6.8)
    assert np.median(heard) == pytest.approx(58.0, abs=0.05)
    assert np.corrcoef(heard, strokes[6, 8].midi_at(times_s))[0, 1] > 0.9


def test_two_attempts_without_a_pause_are_heard_one_by_one() -> None:
    first = PART.strokes()
    second = {
        key: replace(s, start_s=s.start_s + 6.0, end_s=s.end_s + 6.0, knots=tuple((t + 6.0, m) for t, m in s.knots))
        for key, s in first.items()
    }
    listener = _listener(PART, [*first.values(), *second.values()], 14.0)
    border_s = 6.25
    assert set(_by_key(listener.hear(PART.score, -np.inf, border_s))) == _keys(first.values())
    later = listener.hear(replace(PART.score, start_s=7.0), border_s, np.inf)
    assert set(_by_key(later)) == _keys(second.values())


def test_a_string_silenced_too_soon_ends_then_though_the_next_attempt_begins_before_this_one_should_end() -> None:
    strokes = PART.strokes()
    strokes[6, 8] = replace(strokes[6, 8], end_s=6.1)
    by_s = 5.9
    second = [
        replace(s, start_s=s.start_s + by_s, end_s=s.end_s + by_s, knots=tuple((t + by_s, m) for t, m in s.knots))
        for s in PART.strokes().values()
    ]
    heard = _by_key(_listener(PART, [*strokes.values(), *second], 14.0).hear(PART.score, -np.inf, 6.7))
    assert heard[8, 5.5].end_s == pytest.approx(6.1, abs=0.08)


@pytest.mark.parametrize("by_s", [5.7, 5.4])
def test_a_string_that_rings_until_the_next_attempt_begins_is_not_silenced_then(by_s: float) -> None:
    first, second = PART.strokes(), PART.strokes().values()
    later = [
        replace(s, start_s=s.start_s + by_s, end_s=s.end_s + by_s, knots=tuple((t + by_s, m) for t, m in s.knots))
        for s in second
    ]
    heard = _by_key(_listener(PART, [*first.values(), *later], 14.0).hear(PART.score, -np.inf, 0.8 + by_s))
    assert heard[8, 5.5].end_s == pytest.approx(first[6, 8].end_s, abs=0.01)


def test_a_glimpse_has_the_picks_and_how_far_they_are_off() -> None:
    strokes = {
        key: replace(s, start_s=s.start_s + 0.1, knots=tuple((t, midi + 0.2) for t, midi in s.knots))
        for key, s in PART.strokes().items()
    }
    seen = _listener(PART, strokes.values()).glimpse(PART.score, *EVERYWHERE)
    assert {(g.checkpoint.step, g.checkpoint.string) for g in seen} == set(strokes)
    for one in seen:
        assert one.time_s == pytest.approx(strokes[one.checkpoint.step, one.checkpoint.string].start_s, abs=0.006)
        assert one.cents == pytest.approx(20.0, abs=11.0)


@pytest.mark.parametrize("dying", [10.0, 12.0, 20.0])
def test_a_string_that_dies_away_is_heard_at_its_pitch_until_it_is_lost_in_the_noise(dying: float) -> None:
    """Its first partial falls from -20 dB to 14 dB above what a window holds of the noise in a bin, -120 dB. Its second
    lies 15 Hz beside one of string 8, which rings on."""
    part = Part.of("{ beat = 1, fret = 15, pick = [3, 8] }", "{ beat = 4, fret = 17 }", "{ beat = 5, fret = 15 }")
    strokes = part.strokes()
    strokes[1, 3] = replace(strokes[1, 3], dying=dying)
    lost, kept = (_by_key(_hear(part, strokes.values()))[string, 1.0] for string in (3, 8))
    until_s = 1.0 + (120.0 - 14.0 - 20.0) / (3.5 * dying)
    assert lost.faded_s == pytest.approx(until_s, abs=0.25)
    assert lost.median_midi(until_s - 0.7, until_s - 0.2) == pytest.approx(83.0, abs=0.03)
    assert kept.faded_s is None


@pytest.mark.parametrize("again_s", [4.2, 4.5])
def test_a_string_that_is_struck_again_once_it_was_lost_in_the_noise_is_heard_from_there(again_s: float) -> None:
    part = Part.of("{ beat = 1, fret = 15, pick = [3, 8] }", "{ beat = 5, block = 'all' }")
    strokes = part.strokes()
    first = replace(strokes[1, 3], dying=20.0)
    struck = replace(first, start_s=again_s, knots=((again_s, first.knots[0][1]),))
    before, after = (
        note for note in _hear(part, [replace(first, end_s=again_s), struck, strokes[1, 8]]) if note.string == 3
    )
    assert before.faded_s is not None
    assert before.faded_s == pytest.approx(2.2, abs=0.3)
    assert after.faded_s is None
    assert after.median_midi(again_s + 0.1, again_s + 0.4) == pytest.approx(83.0, abs=0.03)


@pytest.mark.parametrize("picked", [(7, 9), (5, 8), (4, 6)])
def test_a_grip_picked_an_octave_too_low_is_heard_there(picked: tuple[int, int]) -> None:
    """The bar is still twelve frets below: all partials of what is asked are there, but a string has one pitch."""
    part = Part.of(
        "{ beat = 1, fret = 2, pick = [5, 6] }", f"{{ beat = 3, fret = 14, pick = [{picked[0]}, {picked[1]}] }}"
    )
    strokes = {
        (step, string): replace(s, knots=tuple((t, midi - 12.0 * (step == 2)) for t, midi in s.knots))
        for (step, string), s in part.strokes().items()
    }
    heard = _by_key(_hear(part, strokes.values()))
    assert set(heard) == _keys(strokes.values())
    for stroke in strokes.values():
        _is_like(heard[stroke.string, round(stroke.start_s, 1)], stroke)


@pytest.mark.parametrize("picked", [(7, 9), (5, 8), (4, 6)])
def test_each_of_two_grips_picked_an_octave_too_low_is_heard_there(picked: tuple[int, int]) -> None:
    here, there = "fret = 2, pick = [5, 6]", f"fret = 14, pick = [{picked[0]}, {picked[1]}]"
    part = Part.of(*(f"{{ beat = {beat}, {grip} }}" for beat, grip in enumerate((here, there, here, there), 1)))
    strokes = {
        (step, string): replace(s, knots=tuple((t, midi - 12.0 * (step in (2, 4))) for t, midi in s.knots))
        for (step, string), s in part.strokes().items()
    }
    heard = _by_key(_hear(part, strokes.values()))
    assert set(heard) == _keys(strokes.values())
    for stroke in strokes.values():
        _is_like(heard[stroke.string, round(stroke.start_s, 1)], stroke)


@pytest.mark.parametrize("roll", [0.08, 0.12])
@pytest.mark.parametrize("frets", [-2.0, -1.0, 1.0, 2.0])
def test_a_rolled_grip_with_the_bar_elsewhere_is_there_with_all_its_strings(roll: float, frets: float) -> None:
    """Two frets too high string 8 sounds where the last one, string 6, is asked, and seemed to be that one."""
    part = Part.of(
        '{ beat = 1, fret = 5, down = ["LKL"], pick = [8] }',
        f'{{ beat = 3, fret = 9, down = ["A", "LKL"], pick = [10, 8, 6], roll = {roll} }}',
    )
    strokes = {
        (step, string): replace(s, knots=tuple((t, midi + frets * (step == 2)) for t, midi in s.knots))
        for (step, string), s in part.strokes().items()
    }
    heard = _by_key(_hear(part, strokes.values()))
    assert set(heard) == _keys(strokes.values())
    for stroke in strokes.values():
        _is_like(heard[stroke.string, round(stroke.start_s, 1)], stroke)


@pytest.mark.parametrize("loud", [0.2, 0.4, 0.6])
def test_what_a_room_holds_of_a_string_is_not_another_one_struck_at_its_pitch(loud: float) -> None:
    """The bar is still where it was, and goes to where the next string would sound as the one before it did."""
    part = Part.of("{ beat = 1, fret = 3, pick = [4] }", "{ beat = 2, fret = 8, pick = [5] }", length=2)
    first, second = part.strokes().values()
    played = [
        first,
        replace(first, start_s=1.02, end_s=2.6, level=0.1 * loud, swell_s=0.05),
        replace(second, knots=((2.0, 62.0),)),
    ]
    assert [round(midi, 1) for _, midi in _pitches(_by_key(_hear(part, played)))] == [67.0, 62.0]


@pytest.mark.parametrize("strings", [(9, 10), (8, 9, 10), (7, 9, 10)])
def test_low_strings_that_sound_together_are_followed_where_they_leave_each_other_partials(
    strings: tuple[int, ...],
) -> None:
    """Down to C2, the lowest a fourth below the next."""
    pick = f"{{ beat = 1, fret = 0, pick = [{', '.join(map(str, strings))}] }}"
    part = Part.of(pick, "{ beat = 3, fret = 3, over = 0.5 }", length=5, copedent="c6-ten-string")
    strokes = part.strokes()
    heard = _by_key(_hear(part, strokes.values()))
    assert set(heard) == _keys(strokes.values())
    for stroke in strokes.values():
        _is_like(heard[stroke.string, 1.0], stroke)


@pytest.mark.parametrize(("dying", "is_lost"), [(5.0, True), (1.0, False)])
def test_a_string_that_has_nearly_died_away_is_lost_where_others_begin_to_play(dying: float, is_lost: bool) -> None:
    """They play quarters, and from the third second on at the pitch of the string."""
    part = Part.of("{ beat = 1, fret = 15, pick = [3] }", "{ beat = 5, block = 'all' }")
    stroke = replace(part.strokes()[1, 3], dying=dying)
    band = [
        Stroke(1, at_s, at_s + 0.24, ((at_s, 83.0 if at_s > 3.9 else 31.0),), level=0.01)
        for at_s in np.arange(1.5, 7.0, 0.25).tolist()
    ]
    (note,) = (note for note in _hear(part, [stroke, *band]) if note.string == 3)
    assert note.faded_s == (pytest.approx(4.0, abs=0.1) if is_lost else None)
