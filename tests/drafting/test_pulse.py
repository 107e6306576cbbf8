"""The beat behind a take."""

from __future__ import annotations

from fractions import Fraction

import librosa
import numpy as np
import pytest

from livecheck.drafting.pulse import beat_of, place_between, places_of

BEATS = [0, 1, 2, 3, 4, 6, 6.5, 7, 8, 10, 12]


def played(tempo: float, seed: int, off_s: float = 0.01) -> list[float]:
    rng = np.random.default_rng(seed)
    return [5.0 + beat * 60.0 / tempo + float(rng.normal(0.0, off_s)) for beat in BEATS]


@pytest.mark.parametrize("tempo", [60, 72, 84, 96, 110])
def test_the_tempo_is_found_and_the_beats_are_round(tempo: float) -> None:
    times_s = played(tempo, round(tempo))
    beat_s = beat_of([times_s])
    assert 60.0 / beat_s == pytest.approx(tempo, rel=0.01)
    assert [float(place.beat) - 1.0 for place in places_of(times_s, beat_s)] == BEATS


def test_a_tempo_that_is_known_is_kept_to() -> None:
    times_s = played(92, 3)
    assert 60.0 / beat_of([times_s], tempo=46.0) == pytest.approx(46.0, rel=0.02)


def test_the_tempo_is_that_of_librosa_or_its_double_or_half() -> None:
    """librosa 0.11's beat tracker on clicks at the same times."""
    times_s = np.arange(24) * 60.0 / 88.0 + 0.5
    clicks = librosa.clicks(times=times_s, sr=22050, length=round(18.0 * 22050))
    heard = float(np.atleast_1d(librosa.beat.beat_track(y=clicks, sr=22050)[0])[0])
    ratio = 60.0 / beat_of([times_s.tolist()]) / heard
    assert min(abs(ratio / times - 1.0) for times in (0.5, 1.0, 2.0)) < 0.04


def test_triplets_are_thirds() -> None:
    times_s = [0.0, 0.25, 0.5, 0.75, 1.5, 1.75, 2.0, 2.25, 3.0, 3.75, 4.5]
    beats = [place.beat for place in places_of(times_s, 0.75)]
    assert beats[1:4] == [Fraction(4, 3), Fraction(5, 3), Fraction(2)]


def test_no_two_times_have_one_place() -> None:
    beats = [place.beat for place in places_of([0.0, 0.02, 0.04, 1.0, 1.01], 1.0)]
    assert beats == sorted(set(beats))


@pytest.mark.parametrize(
    ("beat", "after", "before", "wanted"),
    [
        pytest.param(2.04, 1, 4, "2", id="a whole beat"),
        pytest.param(2.55, 2, 4, "5/2", id="a half"),
        pytest.param(3.95, 2, 4, "31/8", id="before what comes next"),
        pytest.param(1.01, 1, 2, "9/8", id="after what was before"),
        pytest.param(6.3, 5, None, "19/3", id="nothing after it"),
    ],
)
def test_a_silence_is_placed_between_what_is_played(beat: float, after: int, before: int | None, wanted: str) -> None:
    place = place_between(beat, 0.6, Fraction(after), None if before is None else Fraction(before))
    assert place.beat == Fraction(wanted)
