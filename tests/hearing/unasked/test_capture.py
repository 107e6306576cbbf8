"""Tracks that leave their strings for a louder one: by how far they leap, what they gain, and what the others do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.curves.track import Track
from livecheck.hearing.scene import Scene, Sounding
from livecheck.hearing.sound.moment import AFTER_S, Moment
from livecheck.hearing.unasked.capture import captured
from tests.hearing.played import Part, Stroke, tracked

Ringing = Sequence[tuple[Sounding, Track]]
Heard = tuple[Scene, Moment, Mapping[int, tuple[Sounding, Track]]]
PART = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }")
STRAY_S, STRAY_MIDI = 3.0, 65.0
STRAY = Stroke(0, STRAY_S, 4.0, ((STRAY_S, STRAY_MIDI),), level=0.3)
SLIDE_S, SLIDE_SEMITONES = (STRAY_S - 0.15, STRAY_S + 0.25), 3.0


def _around_stray(strokes: Iterable[Stroke], stray: Stroke = STRAY, part: Part = PART) -> Heard:
    scene, sounding = part.scene([*strokes, stray]), part.sounding(part.strokes())
    moment = min(scene.moments, key=lambda m: abs(m.onset.time_s - STRAY_S))
    tracks = tracked(scene, sounding)
    return scene, moment, {one.string: (one, track) for one, track in zip(sounding, tracks, strict=True)}


@pytest.fixture(scope="module")
def heard() -> Heard:
    """Strings 5 and 6 ring until something louder is struck, and are no longer heard where they were."""
    return _around_stray(replace(one, end_s=STRAY_S) for one in PART.strokes().values())


@pytest.fixture(scope="module")
def ringing_on() -> Heard:
    """Strings 5 and 6 ring on while something louder is struck."""
    return _around_stray(PART.strokes().values())


def _drawn(scene: Scene, track: Track, semitones: float, more_db: float) -> Track:
    """A track that stands still but for a leap when the stray is struck, and is so much louder from then on."""
    since = np.arange(len(track.midis)) >= scene.spectra.frame_at(STRAY_S) - track.first
    partials_db = np.full_like(track.partials_db, -40.0) + np.where(since, more_db, 0.0)[:, None]
    return replace(track, midis=np.median(track.midis) + semitones * since, partials_db=partials_db)


def _slid(times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Semitones by which the bar has slid at some times."""
    return np.asarray(np.interp(times_s, SLIDE_S, [0.0, SLIDE_SEMITONES]))


def _sliding(stroke: Stroke) -> Stroke:
    """A string that is at its pitch until the bar slides; of one that is struck meanwhile, when that is."""
    midi = float(stroke.midi_at(stroke.start_s)) - float(_slid(np.array(stroke.start_s)))
    return replace(stroke, knots=((SLIDE_S[0], midi), (SLIDE_S[1], midi + SLIDE_SEMITONES)))


def _on_the_slide(scene: Scene, track: Track, semitones: float) -> Track:
    """A track that slides with the bar but for a leap when the stray is struck."""
    drawn = _drawn(scene, track, semitones, 0.5)
    times_s = scene.spectra.times_s[track.first : track.stop]
    begun = np.median(track.midis[times_s < SLIDE_S[0] - 0.1])
    since = times_s >= STRAY_S
    return replace(drawn, midis=begun + _slid(times_s) + semitones * since)


def _since(track: Track, first: int) -> Track:
    """A track from a frame on."""
    at = first - track.first
    return replace(
        track,
        first=first,
        midis=track.midis[at:],
        db=track.db[at:],
        middle_db=track.middle_db[at:],
        partials_db=track.partials_db[at:],
        support=track.support[at:],
        standing=track.standing[at:],
    )


def _left(scene: Scene, moment: Moment, ringing: Ringing) -> set[int]:
    """The numbers of the strings that tracks left."""
    return {one.string for one in captured(scene, moment, ringing)}


@pytest.mark.parametrize(
    ("semitones", "more_db", "count"), [(3.0, 15.0, 1), (-3.0, 15.0, 1), (0.7, 15.0, 0), (3.0, 0.5, 0)]
)
def test_a_track_that_leaps_and_grows_left_its_string(
    heard: Heard, semitones: float, more_db: float, count: int
) -> None:
    scene, moment, by_string = heard
    (one, track), (other, trail) = by_string[5], by_string[6]
    ringing = [(one, _drawn(scene, track, semitones, more_db)), (other, _drawn(scene, trail, 0.0, 0.0))]
    found = _left(scene, moment, ringing)
    assert found == ({5} if count else set())


def test_where_all_leap_together_the_bar_did(heard: Heard) -> None:
    """Another one that was lost by the leap does not count."""
    scene, moment, by_string = heard
    for other_db, found in ((15.0, set()), (-20.0, {5})):
        ringing = [
            (one, _drawn(scene, track, 3.0, more_db))
            for (one, track), more_db in zip(by_string.values(), (15.0, other_db), strict=True)
        ]
        assert _left(scene, moment, ringing) == found


def test_a_string_that_was_struck_a_moment_ago_is_not_drawn_away_yet(heard: Heard) -> None:
    scene, moment, by_string = heard
    one, track = by_string[5]
    begun = replace(one, onset=replace(one.onset, time_s=STRAY_S - 0.06))
    assert _left(scene, moment, [(begun, _drawn(scene, track, 3.0, 15.0))]) == set()


def test_a_string_that_was_struck_in_place_of_another_is_not_what_it_is_compared_with(heard: Heard) -> None:
    """Two that ring may have one number, where another string than the asked one was struck."""
    scene, moment, by_string = heard
    (one, track), (other, trail) = by_string[5], by_string[6]
    ringing = [(one, _drawn(scene, track, 3.0, 15.0)), (replace(other, string=5), _drawn(scene, trail, 0.0, 0.0))]
    assert _left(scene, moment, ringing) == {5}


@pytest.mark.parametrize(("semitones", "found"), [(1.0, {5, 6}), (-3.0, {5, 6}), (0.5, set())])
def test_where_strings_are_heard_on_all_tracks_were_drawn_away(
    ringing_on: Heard, semitones: float, found: set[int]
) -> None:
    scene, moment, by_string = ringing_on
    drawn = [(one, _drawn(scene, track, semitones, 0.5)) for one, track in by_string.values()]
    assert _left(scene, moment, drawn) == found


@pytest.mark.parametrize(("level", "found"), [(0.0125, {5, 6}), (0.04, set())])
def test_a_string_that_fades_on_and_whose_track_wavers_did_not_move(level: float, found: set[int]) -> None:
    """String 6 loses five decibels, or was struck."""
    softened = [
        part
        for one in PART.strokes().values()
        for part in (
            replace(one, end_s=STRAY_S + 0.03),
            replace(one, start_s=STRAY_S, level=level if one.string == 6 else 0.0, swell_s=0.03),
        )
    ]
    scene, moment, by_string = _around_stray(softened)
    drawn = [(one, _drawn(scene, track, 2.0, 0.5)) for one, track in by_string.values()]
    for _, track in drawn:
        track.midis[: scene.spectra.frame_at(STRAY_S) - track.first : 2] += 0.15
    assert _left(scene, moment, drawn) == found


def test_one_that_is_heard_on_tells_that_the_bar_did_not_move_the_others() -> None:
    """String 6 is no longer heard."""
    scene, moment, by_string = _around_stray(
        replace(one, end_s=STRAY_S) if one.string == 6 else one for one in PART.strokes().values()
    )
    drawn = [(one, _drawn(scene, track, 2.0, 0.5)) for one, track in by_string.values()]
    assert _left(scene, moment, drawn) == {5, 6}
    assert _left(scene, moment, [drawn[1]]) == set()


def test_one_that_has_one_number_with_another_and_stays_in_place_tells_nothing_of_that_other_s_track() -> None:
    """String 6 is no longer heard; what is heard on was struck in place of another and has its number."""
    scene, moment, by_string = _around_stray(
        replace(one, end_s=STRAY_S) if one.string == 6 else one for one in PART.strokes().values()
    )
    (one, track), (other, trail) = by_string[5], by_string[6]
    still, leapt = _drawn(scene, track, 0.0, 0.0), (other, _drawn(scene, trail, 2.0, 0.5))
    assert _left(scene, moment, [(replace(one, string=6), still), leapt]) == set()


def test_a_string_is_where_its_track_left_it(heard: Heard) -> None:
    scene, moment, by_string = heard
    one, track = by_string[5]
    left = captured(scene, moment, [(one, _drawn(scene, track, 3.0, 15.0))])[one]
    assert left.way.at(AFTER_S) == pytest.approx(62.0, abs=0.1)


@pytest.mark.parametrize(("fret", "found"), [(6, set()), (5, {5})])
def test_a_track_that_leaps_to_where_its_string_is_due_was_not_on_it_before(fret: int, found: set[int]) -> None:
    """The string has died away before the bar moved on, and is struck again, or another one is."""
    part = Part.of("{ beat = 1, fret = 3, pick = [5] }", f"{{ beat = 2.5, fret = {fret}, over = 0.25 }}")
    strokes = [replace(one, end_s=2.0) for one in part.strokes().values()]
    scene, moment, by_string = _around_stray(strokes, STRAY, part)
    one, track = by_string[5]
    since = np.arange(len(track.midis)) >= scene.spectra.frame_at(STRAY_S) - track.first
    leapt = replace(_drawn(scene, track, 0.0, 15.0), midis=np.where(since, STRAY_MIDI, 62.0))
    assert _left(scene, moment, [(one, leapt)]) == found


# soft strokes, and a bar on its way


@pytest.mark.parametrize(("rise", "found"), [(0.2, {5}), (0.12, set())])
def test_by_a_soft_stroke_a_track_leaves_its_string_where_another_is_seen_to_go_on(
    heard: Heard, rise: float, found: set[int]
) -> None:
    """Under several strings that ring a stroke is no great rise."""
    scene, moment, by_string = heard
    soft = replace(moment, onset=replace(moment.onset, rise=rise))
    (one, track), (other, trail) = by_string[5], by_string[6]
    leapt = one, _drawn(scene, track, 3.0, 15.0)
    assert _left(scene, soft, [leapt, (other, _drawn(scene, trail, 0.0, 0.0))]) == found
    assert _left(scene, soft, [leapt]) == set()
    assert _left(scene, soft, [leapt, (other, _drawn(scene, trail, -3.0, 0.0))]) == set()


def test_by_a_soft_stroke_a_string_that_has_just_been_struck_is_not_seen_to_go_on(heard: Heard) -> None:
    """Its track begins where the other one leaps."""
    scene, moment, by_string = heard
    soft = replace(moment, onset=replace(moment.onset, rise=0.2))
    (one, track), (other, trail) = by_string[5], by_string[6]
    begun = replace(other, onset=replace(other.onset, time_s=STRAY_S))
    first = scene.spectra.frame_at(STRAY_S + 0.01)
    since = _since(_drawn(scene, trail, 0.0, 0.0), first)
    assert _left(scene, soft, [(one, _drawn(scene, track, 3.0, 15.0)), (begun, since)]) == set()


def test_by_a_soft_stroke_no_string_was_left_where_all_tracks_leap(ringing_on: Heard) -> None:
    """A bar that goes fast is a soft attack too."""
    scene, moment, by_string = ringing_on
    soft = replace(moment, onset=replace(moment.onset, rise=0.2))
    drawn = [(one, _drawn(scene, track, 2.0, 0.5)) for one, track in by_string.values()]
    assert (_left(scene, moment, drawn), _left(scene, soft, drawn)) == ({5, 6}, set())


@pytest.mark.parametrize(("lost_db", "went"), [(0.0, 1.5), (-20.0, 0.0)])
def test_a_string_whose_track_left_it_is_where_the_bar_took_the_others(
    heard: Heard, lost_db: float, went: float
) -> None:
    """They went on by a semitone and a half, which is not written there. One that was lost tells nothing."""
    scene, moment, by_string = heard
    (one, track), (other, trail) = by_string[5], by_string[6]
    times_s = scene.spectra.times_s[trail.first : trail.stop]
    moved = np.interp(times_s, [STRAY_S - 0.1, STRAY_S + 0.1], [0.0, 1.5])
    beside = replace(_drawn(scene, trail, 0.0, lost_db), midis=np.median(trail.midis) + moved)
    left = captured(scene, moment, [(one, _drawn(scene, track, 3.0, 15.0)), (other, beside)])[one]
    assert left.way.at(AFTER_S) == pytest.approx(62.0 + went * (0.1 + AFTER_S) / 0.2, abs=0.1)


@pytest.fixture(scope="module")
def sliding() -> Heard:
    """Strings 5 and 6 slide up three semitones, and another one that is struck meanwhile slides along."""
    return _around_stray(map(_sliding, PART.strokes().values()), _sliding(STRAY))


@pytest.mark.parametrize("semitones", [2.0, -2.0, 1.0])
def test_strings_that_are_heard_on_where_the_bar_takes_them_were_left(sliding: Heard, semitones: float) -> None:
    """All tracks leap alike and go on as the string does that has drawn them away."""
    scene, moment, by_string = sliding
    drawn = [(one, _on_the_slide(scene, track, semitones)) for one, track in by_string.values()]
    ways = captured(scene, moment, drawn)
    after = float(_slid(np.array(STRAY_S + AFTER_S)))
    assert {one.string: left.way.at(AFTER_S) for one, left in ways.items()} == {
        5: pytest.approx(62.0 + after, abs=0.2),
        6: pytest.approx(59.0 + after, abs=0.2),
    }


def test_tracks_that_slide_with_their_strings_have_left_none(sliding: Heard) -> None:
    scene, moment, by_string = sliding
    assert _left(scene, moment, [(one, _on_the_slide(scene, track, 0.0)) for one, track in by_string.values()]) == set()
