"""What an onset says for a string: struck, ringing on, or not there, by levels that are known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livecheck.hearing.sound.moment import Moment
from livecheck.hearing.sound.onset import onsets
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.spectrum import spectrogram
from tests.hearing.played import Stroke, driven
from tests.hearing.tones import Samples, laid, tone

STRUCK_S = 1.0
DURATION_S = 2.0


def _moment(*parts: tuple[float, Samples]) -> Moment:
    return _of(laid(list(parts), DURATION_S))


def _of(recording: Recording) -> Moment:
    onset = min(onsets(recording), key=lambda o: abs(o.time_s - STRUCK_S))
    assert onset.time_s == pytest.approx(STRUCK_S, abs=0.005)
    spectra, deep = (spectrogram(recording, 0.0, DURATION_S, window, 256) for window in (2048, 4096))
    return Moment.at(onset, DURATION_S, spectra, deep)


def _grip(*midis: float, level: float = 0.1) -> list[tuple[float, Samples]]:
    return [(STRUCK_S, tone(midi, 1.0, level=level)) for midi in midis]


@pytest.mark.parametrize("grip", [(62.0, 59.0), (71.0, 66.0, 62.0), (68.0, 64.0, 59.0), (54.0, 57.0)])
def test_strings_struck_together_are_all_struck(grip: tuple[float, ...]) -> None:
    moment = _moment(*_grip(*grip))
    for midi in grip:
        assert moment.struck(moment.evidence(midi, [other for other in grip if other != midi])) > 0.6


@pytest.mark.parametrize("grip", [(62.0, 59.0), (71.0, 66.0, 62.0), (68.0, 64.0, 59.0), (54.0, 57.0)])
def test_a_string_left_out_of_a_grip_is_not_struck(grip: tuple[float, ...]) -> None:
    for midi in grip:
        others = [other for other in grip if other != midi]
        moment = _moment(*_grip(*others))
        assert moment.struck(moment.evidence(midi, others)) < 0.3


@pytest.mark.parametrize("grip", [(55.0, 53.0, 50.0), (57.0, 54.0, 50.0)])
def test_a_soft_string_is_told_from_two_others_that_lie_close(grip: tuple[float, ...]) -> None:
    """Between the partials of two others there is only just room for its own."""
    soft, *others = grip
    loud = [*_grip(others[0], level=0.05), *_grip(others[1])]
    assert _moment(*loud, *_grip(soft, level=0.03)).evidence_for_asked(soft, others).presence > 0.6
    assert _moment(*loud).evidence_for_asked(soft, others).presence < 0.3


@pytest.mark.parametrize("grip", [(57.0, 50.0, 64.0), (47.0, 59.0, 60.0, 62.0), (64.0, 52.0, 54.0, 59.0)])
def test_what_others_mix_to_is_no_string_that_they_crowd(grip: tuple[float, ...]) -> None:
    """It stands between their partials, in the room that the longer window finds there."""
    silent, *others = grip
    recording = driven([Stroke(0, STRUCK_S, DURATION_S, ((STRUCK_S, midi),)) for midi in others], 1.0)
    assert replace(_of(recording), driven=True).evidence_for_asked(silent, others).presence < 0.3


def test_where_mixtures_leave_too_little_a_string_is_read_as_if_there_were_none() -> None:
    """And as if nothing crowded it, which the longer window would be asked for."""
    asked, *others = 55.0, 53.0, 50.0
    recording = driven([Stroke(0, STRUCK_S, DURATION_S, ((STRUCK_S, midi),)) for midi in others], 1.0)
    moment = _of(recording)
    told = replace(moment, driven=True).evidence_for_asked(asked, others)
    assert told == moment.evidence(asked, others)
    assert told != moment.evidence_for_asked(asked, others)


@pytest.mark.parametrize("rings", [40.0, 43.0, 45.0])
def test_low_strings_are_told_apart(rings: float) -> None:
    """C2 is struck while a string rings on that nobody expects to: 65 Hz and, say, 110 Hz part after half a period of
    their difference."""
    under = 0.2, tone(rings, 1.6)
    assert _moment(under, *_grip(36.0)).evidence(36.0, ()).presence > 0.6
    assert _moment(under, *_grip(52.0)).evidence(36.0, (52.0,)).presence < 0.3


def test_a_string_that_rings_on_while_others_are_struck_has_not_grown() -> None:
    moment = _moment((0.2, tone(59.0, 1.6)), *_grip(64.0, 68.0))
    ringing = moment.evidence(59.0, (64.0, 68.0))
    assert ringing.presence > 0.6
    assert ringing.gain_db < 1.0
    assert moment.evidence(64.0, (59.0, 68.0)).gain_db > 20.0


@pytest.mark.parametrize(("times", "more_db"), [(2.0, 6.02), (4.0, 12.04), (0.5, -6.02)])
def test_growth_is_measured_in_decibels(times: float, more_db: float) -> None:
    """A ringing string struck again grows by so much more as it is struck harder."""
    gains_db = []
    for level in (0.1, 0.1 * times):
        moment = _moment((0.2, tone(60.0, STRUCK_S - 0.2)), *_grip(60.0, level=level))
        gains_db.append(moment.evidence(60.0, ()).gain_db)
    assert gains_db[1] - gains_db[0] == pytest.approx(more_db, abs=0.5)


@pytest.mark.parametrize("below_db", [0.0, 10.0, 20.0])
def test_a_string_s_level_is_that_beside_the_loudest(below_db: float) -> None:
    moment = _moment(*_grip(59.0), *_grip(64.0, level=0.1 * 10.0 ** (-below_db / 20.0)))
    assert moment.evidence(64.0, (59.0,)).level_db == pytest.approx(-below_db, abs=1.5)


@pytest.mark.parametrize("off_cents", [-50.0, -20.0, 0.0, 30.0, 50.0])
def test_a_string_that_is_off_is_found_where_it_is(off_cents: float) -> None:
    moment = _moment(*_grip(62.0 + off_cents / 100.0, 66.0))
    assert moment.evidence(62.0, (66.0,)).midi == pytest.approx(62.0 + off_cents / 100.0, abs=0.11)


def test_an_octave_above_a_sounding_string_has_nothing_of_its_own() -> None:
    moment = _moment(*_grip(52.0, 64.0))
    assert moment.evidence(64.0, (52.0,), within_cents=0.0).free == 0.0
    assert moment.evidence(52.0, (64.0,)).free > 0.5


def test_what_sounds_after_the_next_onset_is_not_heard() -> None:
    parts = [*_grip(59.0), (STRUCK_S + 0.1, tone(66.0, 0.8))]
    recording = laid(parts, DURATION_S)
    spectra = spectrogram(recording, 0.0, DURATION_S, 2048, 256)
    first, second = [o for o in onsets(recording) if o.rise > 0.2 and o.time_s > 0.5]
    moment = Moment.at(first, second.time_s, spectra)
    assert moment.evidence(59.0, (66.0,)).presence > 0.6
    assert moment.evidence(66.0, (59.0,)).level_db < -15.0


def test_a_knock_has_no_overtones_beside_a_string_above_it() -> None:
    """A tone a twelfth below a string is no string; where another string hides what it should have, nothing is said."""
    knock = STRUCK_S, tone(48.0, 1.0, partials=1)
    knocked = _moment(knock, *_grip(67.0)).overtones(48.0, (67.0,), 25.0)
    struck = _moment(*_grip(48.0, 67.0)).overtones(48.0, (67.0,), 25.0)
    assert knocked is not None
    assert struck is not None
    assert knocked < 0.1 < 0.8 < struck
    assert _moment(*_grip(48.0, 67.0)).overtones(48.0, (60.0, 67.0, 76.0, 58.0, 58.4, 72.3), 25.0) is None


def test_what_a_string_brought_is_its_level_and_its_share_in_what_is_new() -> None:
    """Two strings struck alike while a third rings on: of what is new each has half, and all where the other is
    known."""
    moment = _moment((0.2, tone(59.0, 1.6)), *_grip(66.0, 70.3))
    level_db, share = moment.brought([66.0], [59.0])
    assert level_db == pytest.approx(moment.new_db - 3.0, abs=1.0)
    assert share == pytest.approx(0.5, abs=0.1)
    assert moment.brought([66.0], [59.0, 70.3])[1] > 0.95
    assert moment.brought([62.8], [59.0])[1] < 0.25
