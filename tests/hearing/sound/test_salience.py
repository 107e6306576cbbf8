"""Salience: harmonic sums stand out where the strings are, of one string and of several."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.sound.salience import FLOOR_BINS, GRID_MIDI, HOP, WINDOW, compressed, grid_index, salience
from livecheck.hearing.sound.spectrum import magnitudes_of
from tests.hearing.tones import laid, tone

DURATION_S = 0.5


def _magnitudes(*midis: float) -> NDArray[np.float32]:
    recording = laid([(0.0, tone(midi, DURATION_S)) for midi in midis], DURATION_S)
    return magnitudes_of(recording.slice(0, len(recording)), WINDOW, HOP)


def _row(*midis: float) -> NDArray[np.float32]:
    """The salience in the middle of some strings' sound."""
    rows = salience(compressed(_magnitudes(*midis)))
    return np.asarray(rows[len(rows) // 2])


@pytest.mark.parametrize("midi", [45.0, 52.3, 59.1, 66.8, 74.5, 84.0])
def test_a_string_is_most_salient_at_its_pitch(midi: float) -> None:
    """Below that a window of 85 ms cannot tell tens of cents."""
    assert GRID_MIDI[np.argmax(_row(midi))] == pytest.approx(midi, abs=0.25)


@pytest.mark.parametrize("grip", [(56.0, 59.0, 64.0), (59.0, 64.0, 68.0), (52.0, 56.0, 59.0)])
def test_every_string_of_a_grip_stands_out_of_its_neighbourhood(grip: tuple[float, ...]) -> None:
    row = _row(*grip)
    for midi in grip:
        here = row[grid_index(midi - 0.2) : grid_index(midi + 0.2) + 1].max()
        beside = [row[grid_index(midi + off)] for off in (-1.0, 1.0)]
        assert here > 1.3 * max(beside)


def test_the_grid_covers_the_strings_in_steps_of_ten_cents() -> None:
    assert np.allclose(np.diff(GRID_MIDI), 0.1)
    assert grid_index(np.array([-50.0, 200.0])).tolist() == [0, len(GRID_MIDI) - 1]


def test_an_even_floor_is_taken_off() -> None:
    """Nearer to the ends of the spectrum than its neighbourhood is wide, a bin has a lower floor."""
    clean = compressed(np.full((3, WINDOW // 2 + 1), 0.2, dtype=np.float32))
    assert clean[:, FLOOR_BINS:-FLOOR_BINS] == pytest.approx(0.0, abs=1e-5)


def test_what_is_left_grows_as_the_root_of_the_sound() -> None:
    magnitudes = _magnitudes(60.0)
    assert np.allclose(compressed(4.0 * magnitudes), 2.0 * compressed(magnitudes), atol=1e-4)
    assert compressed(magnitudes).min() >= 0.0


def test_a_row_does_not_depend_on_the_rows_beside_it() -> None:
    magnitudes = _magnitudes(60.0, 64.0)
    clean = compressed(magnitudes)
    assert np.array_equal(salience(clean)[3:5], salience(clean[3:5]))
    assert all(np.array_equal(row, compressed(one[None])[0]) for row, one in zip(clean, magnitudes, strict=True))


def test_the_floor_is_the_mean_of_the_neighbourhood() -> None:
    root = np.sqrt(_magnitudes(60.0, 64.0)).astype(np.float64)
    width = 2 * FLOOR_BINS + 1
    wanted = [np.maximum(row - np.convolve(row, np.ones(width) / width, mode="same"), 0.0) for row in root]
    assert compressed(root.astype(np.float32) ** 2) == pytest.approx(np.array(wanted), abs=1e-6)
