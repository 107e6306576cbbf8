"""Tracks: strings that glide together are told apart, and one that stays where another goes is not drawn along."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.curves.quest import Quest
from livecheck.hearing.curves.track import Track
from livecheck.hearing.curves.tracks import change_back, side_by_side, track_all
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.resample import WORK_RATE_HZ
from livecheck.hearing.sound.salience import compressed
from livecheck.hearing.sound.spectrum import Spectrogram, spectrogram
from tests.hearing.tones import laid, tone

Curve = NDArray[np.float64]
LENGTH_S = 1.6


def _ramp(level: float, by: float, start_s: float, end_s: float, times_s: Curve) -> Curve:
    return level + by * np.clip((times_s - start_s) / (end_s - start_s), 0.0, 1.0)


def _played(curves: list[tuple[float, float, float, float]]) -> Recording:
    clock = np.arange(round(LENGTH_S * WORK_RATE_HZ)) / WORK_RATE_HZ
    return laid([(0.0, tone(_ramp(*curve, clock), LENGTH_S)) for curve in curves], LENGTH_S)


def _tracked(
    recording: Recording, expected: list[tuple[float, float, float, float]], homes: list[tuple[float, ...]]
) -> tuple[Spectrogram, list[Track]]:
    spectra = spectrogram(recording, 0.1, LENGTH_S - 0.1, 2048, 256)
    clean = compressed(spectra.magnitudes)
    clean /= clean.max(axis=1, keepdims=True)
    count = len(spectra.magnitudes)
    quests = [
        Quest(0, count, home, _ramp(*curve, spectra.times_s)) for curve, home in zip(expected, homes, strict=True)
    ]
    return spectra, track_all(spectra, clean, quests)


def _off_cents(spectra: Spectrogram, track: Track, curve: tuple[float, float, float, float]) -> Curve:
    return np.asarray(np.abs(track.midis - _ramp(*curve, spectra.times_s)) * 100.0)


def test_three_strings_slide_together_without_changing_places() -> None:
    curves = [(60.0, 4.0, 0.7, 1.0), (64.0, 4.0, 0.7, 1.0), (67.0, 4.0, 0.7, 1.0)]
    spectra, tracks = _tracked(_played(curves), curves, [(60.0, 64.0), (64.0, 68.0), (67.0, 71.0)])
    for track, curve in zip(tracks, curves, strict=True):
        off = _off_cents(spectra, track, curve)
        assert np.median(off) < 3.0
        assert np.percentile(off, 95) < 40.0


def test_a_slide_that_comes_late_is_followed_as_it_came() -> None:
    late = [(60.0, 4.0, 0.9, 1.2), (64.0, 4.0, 0.9, 1.2)]
    expected = [(60.0, 4.0, 0.6, 0.9), (64.0, 4.0, 0.6, 0.9)]
    spectra, tracks = _tracked(_played(late), expected, [(60.0, 64.0), (64.0, 68.0)])
    for track, curve in zip(tracks, late, strict=True):
        off = _off_cents(spectra, track, curve)
        assert np.median(off) < 3.0
        assert np.percentile(off, 95) < 60.0


def test_a_string_that_stays_is_not_drawn_along() -> None:
    played = [(60.0, 0.0, 0.7, 1.0), (64.0, 2.0, 0.7, 1.0)]
    expected = [(60.0, 2.0, 0.7, 1.0), (64.0, 2.0, 0.7, 1.0)]
    spectra, tracks = _tracked(_played(played), expected, [(60.0, 62.0), (64.0, 66.0)])
    end = spectra.times_s > 1.1
    assert np.median(_off_cents(spectra, tracks[0], played[0])[end]) < 5.0
    assert np.median(_off_cents(spectra, tracks[1], played[1])[end]) < 5.0


@pytest.mark.parametrize("dying", [10.0, 12.0, 15.0])
def test_a_string_that_dies_away_is_not_read_where_a_louder_one_has_a_partial_beside_it(dying: float) -> None:
    """The fifth partial of the lower string lies 15 Hz below the second of the upper one."""
    curves = [(67.0, 0.0, 0.7, 1.0), (83.0, 0.0, 0.7, 1.0)]
    tones = [(0.0, tone(67.0, LENGTH_S)), (0.0, tone(83.0, LENGTH_S, dying=dying))]
    spectra, tracks = _tracked(laid(tones, LENGTH_S), curves, [(67.0,), (83.0,)])
    late = spectra.times_s > 0.9
    assert np.percentile(_off_cents(spectra, tracks[1], curves[1])[late], 90) < 4.0


@pytest.mark.parametrize("midi", [34.0, 38.0, 43.0, 60.0])
def test_mere_noise_does_not_stand_out_of_itself(midi: float) -> None:
    """Of 60 frames one may. Where a string is low the noise around its first partial is looked for at the lower edge of
    the spectrum; at the upper one there is none, as in what was recorded at a higher rate."""
    count = round(LENGTH_S * WORK_RATE_HZ)
    standing = []
    for seed in range(6):
        spectrum = np.fft.rfft(np.random.default_rng(seed).normal(0.0, 0.003, count))
        spectrum[round(0.9 * len(spectrum)) :] = 0.0
        recording = Recording()
        recording.append(np.fft.irfft(spectrum, count).astype(np.float32))
        standing.append(_tracked(recording, [(midi, 0.0, 0.7, 1.0)], [(midi,)])[1][0].standing)
    assert np.mean(np.array(standing) > 0.0) < 0.05


@pytest.mark.parametrize(("falls", "stays"), [(-2.0, 62.0), (-3.0, 61.0)])
def test_strings_do_not_change_places_where_one_did_not_move(falls: float, stays: float) -> None:
    """One comes down while its neighbour, which should have come up to meet it, stays."""
    played = [(65.0, falls, 0.7, 0.95), (stays, 0.0, 0.7, 0.95)]
    expected = [(65.0, falls, 0.7, 0.95), (stays, 1.0, 0.7, 0.95)]
    spectra, tracks = _tracked(_played(played), expected, [(65.0, 65.0 + falls), (stays, stays + 1.0)])
    end = spectra.times_s > 1.1
    for track, curve in zip(tracks, played, strict=True):
        assert np.median(_off_cents(spectra, track, curve)[end]) < 5.0


@pytest.mark.parametrize("turns", [(60,), (60, 120), (60, 120, 180)])
def test_what_changed_places_goes_back_until_it_changes_again(turns: tuple[int, ...]) -> None:
    frames = np.arange(240)
    changed = np.searchsorted(turns, frames, side="right") % 2 == 1
    quests = [Quest(0, len(frames), (midi,), np.full(len(frames), midi)) for midi in (60.0, 64.0)]
    paths = [np.where(changed, 64.0, 60.0), np.where(changed, 60.0, 64.0)]
    assert change_back(quests, paths) == [0, 1]
    assert [np.unique(path).tolist() for path in paths] == [[60.0], [64.0]]


def test_strings_that_leave_a_unison_have_no_sides_to_keep() -> None:
    """There the partials of each are taken by the other, so that their paths lie to both sides of it, anyhow."""
    frames = np.arange(200)
    ends = (57.0, 56.0)
    quests = [Quest(0, 200, (63.0, end), np.where(frames < 100, 63.0, end)) for end in ends]
    paths = [np.where(frames < 100, at, end) for at, end in zip((62.6, 63.4), ends, strict=True)]
    assert change_back(quests, paths) == []
    assert [path[-1] for path in paths] == [57.0, 56.0]


def test_a_bar_that_lies_elsewhere_than_written_is_followed_by_all_strings() -> None:
    """A fret too high all the while: each string sounds where its neighbour's pitch is not far."""
    expected = [(60.0, 2.0, 0.7, 1.0), (64.0, 2.0, 0.7, 1.0), (67.0, 2.0, 0.7, 1.0)]
    curves = [(level + 1.0, by, start_s, end_s) for level, by, start_s, end_s in expected]
    spectra, tracks = _tracked(_played(curves), expected, [(60.0, 62.0), (64.0, 66.0), (67.0, 69.0)])
    for track, curve in zip(tracks, curves, strict=True):
        assert np.median(_off_cents(spectra, track, curve)) < 3.0


def test_where_the_player_s_way_is_lost_the_figure_s_line_is_followed() -> None:
    """The way has stayed at the start of a slide of four frets, further than a bar is looked for."""
    curves = [(50.0, 4.0, 0.7, 1.1), (54.0, 4.0, 0.7, 1.1), (57.0, 4.0, 0.7, 1.1)]
    spectra = spectrogram(_played(curves), 0.1, LENGTH_S - 0.1, 2048, 256)
    clean = compressed(spectra.magnitudes)
    clean /= clean.max(axis=1, keepdims=True)
    quests = [
        Quest(
            0, len(spectra), (curve[0], sum(curve[:2])), np.full(len(spectra), curve[0]), _ramp(*curve, spectra.times_s)
        )
        for curve in curves
    ]
    for track, curve in zip(track_all(spectra, clean, quests), curves, strict=True):
        off = _off_cents(spectra, track, curve)
        assert np.median(off) < 3.0
        assert np.percentile(off, 95) < 60.0


def test_strings_that_move_against_each_other_keep_their_pitches() -> None:
    """One is raised by a pedal while the other is lowered by a lever."""
    curves = [(59.0, 2.0, 0.6, 0.9), (64.0, -1.0, 0.6, 0.9)]
    spectra, tracks = _tracked(_played(curves), curves, [(59.0, 61.0), (63.0, 64.0)])
    for track, curve in zip(tracks, curves, strict=True):
        off = _off_cents(spectra, track, curve)
        assert np.median(off) < 3.0
        assert np.percentile(off, 95) < 40.0


def test_a_string_s_level_falls_when_it_is_silenced_and_nothing_supports_it_then() -> None:
    recording = laid([(0.0, tone(60.0, 0.8)), (0.0, tone(64.0, LENGTH_S))], LENGTH_S)
    level = [(60.0, 0.0, 0.7, 1.0), (64.0, 0.0, 0.7, 1.0)]
    spectra, (silenced, ringing) = _tracked(recording, level, [(60.0,), (64.0,)])
    before, after = spectra.times_s < 0.7, spectra.times_s > 0.9
    assert np.median(silenced.db[before]) - np.median(silenced.db[after]) > 15.0  # the other string spills over
    assert abs(np.median(ringing.db[before]) - np.median(ringing.db[after])) < 10.0
    assert np.median(silenced.support[before]) > 0.9
    assert np.median(silenced.support[after]) < 0.3
    assert np.median(ringing.support[after]) > 0.9


def test_strings_wait_only_for_those_before_them_that_they_meet() -> None:
    assert side_by_side([(0, 9), (0, 9), (10, 20), (10, 20), (5, 12)]) == [[0, 2], [1, 3], [4]]
    assert side_by_side([]) == []


@pytest.mark.parametrize("level", [0.1, 0.02, 0.01])
def test_a_soft_string_that_stays_is_not_drawn_along(level: float) -> None:
    """Of its partials only the lowest is left."""
    played = [(62.0, -2.0, 0.7, 1.0), (69.0, -2.0, 0.7, 1.0), (82.0, 0.0, 0.7, 1.0)]
    expected = [*played[:2], (82.0, -1.0, 0.7, 1.0)]
    clock = np.arange(round(LENGTH_S * WORK_RATE_HZ)) / WORK_RATE_HZ
    tones = [(0.0, tone(_ramp(*curve, clock), LENGTH_S)) for curve in played[:2]]
    tones.append((0.0, tone(82.0, LENGTH_S, partials=1, level=level)))
    spectra, tracks = _tracked(laid(tones, LENGTH_S), expected, [(62.0, 60.0), (69.0, 67.0), (82.0, 81.0)])
    end = spectra.times_s > 1.1
    assert np.median(_off_cents(spectra, tracks[2], played[2])[end]) < 5.0


@pytest.mark.parametrize("is_stray", [False, True])
@pytest.mark.parametrize("lost_midi", [72.0, 72.4])
def test_a_string_comes_out_of_its_hiding_place_when_it_should_though_the_player_s_way_is_lost(
    lost_midi: float, is_stray: bool
) -> None:
    """A pedal raises it from the octave above another string, of which alone the player's way cannot tell."""
    lower, upper = (60.0, 0.0, 0.7, 0.9), (72.0, 1.0, 0.7, 0.9)
    parts = [(0.0, tone(60.0, LENGTH_S))]
    clock = np.arange(round(LENGTH_S * WORK_RATE_HZ)) / WORK_RATE_HZ
    parts.append((0.0, tone(_ramp(*upper, clock), LENGTH_S, level=0.02)))
    spectra = spectrogram(laid(parts, LENGTH_S), 0.1, LENGTH_S - 0.1, 2048, 256)
    clean = compressed(spectra.magnitudes)
    clean /= clean.max(axis=1, keepdims=True)
    times_s = spectra.times_s
    stays = np.full(len(spectra), 60.0)
    guess = np.where(times_s < 0.8, 72.0, np.where(times_s < 1.3, lost_midi, 73.0))
    quests = [
        Quest(0, len(spectra), (60.0,), stays, None if is_stray else stays),
        Quest(0, len(spectra), (72.0, 73.0), guess, _ramp(*upper, times_s)),
    ]
    low, high = track_all(spectra, clean, quests)
    since = (times_s > 0.95) & (times_s < 1.25)
    assert np.median(_off_cents(spectra, low, lower)) < 5.0
    assert np.median(_off_cents(spectra, high, upper)[since]) < 15.0
