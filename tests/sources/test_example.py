"""A step as it should sound: the pitches are those of the lesson, heard by livecheck itself and by a plain spectrum."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.lesson.pitch import hz_of
from livecheck.sources.example import example, plucked, whole_example
from livecheck.sources.library import load_lesson
from tests.cli.call import write_lesson

RATE_HZ = 24_000


def played(folder: Path, figure: int, step: int) -> NDArray[np.float32]:
    write_lesson(folder)
    lesson = load_lesson(str(folder / "lesson.toml"))
    return example(lesson.figures[figure], lesson.copedent, step, 60.0, RATE_HZ, -20.0)


def strength(samples: NDArray[np.float32], midi: float) -> float:
    """How much of a pitch's fundamental is there."""
    times_s = np.arange(len(samples)) / RATE_HZ
    return float(np.abs(np.mean(samples * np.exp(-2j * np.pi * hz_of(midi) * times_s))))


def test_strings_that_are_picked_sound_at_their_frets(tmp_path: Path) -> None:
    """Figure 1, step 1: strings 1 (B4) and 3 (E4) at fret 3, two beats until the bar begins to move to 5."""
    samples = played(tmp_path, 0, 1)
    assert np.abs(samples).max() == pytest.approx(0.1, rel=1e-5)
    assert len(samples) == 2 * RATE_HZ
    there = min(strength(samples, 74.0), strength(samples, 67.0))
    assert there > 20.0 * max(strength(samples, 71.0), strength(samples, 64.0))


def test_a_move_is_heard_to_set_out_and_to_arrive(tmp_path: Path) -> None:
    """Figure 2, step 2: string 1 at fret 10 (A5), P raises it by two in a quarter of a beat, ending on beat 2."""
    samples = played(tmp_path, 1, 2)
    before, after = samples[: round(0.75 * RATE_HZ)], samples[RATE_HZ:]
    assert strength(before, 81.0) > 20.0 * strength(before, 83.0)
    assert strength(after, 83.0) > 20.0 * strength(after, 81.0)


def test_a_step_that_only_silences_ends_in_silence(tmp_path: Path) -> None:
    """Figure 1, step 4: block all on beat 7."""
    samples = played(tmp_path, 0, 4)
    assert np.abs(samples[:RATE_HZ]).max() > 0.05
    assert np.abs(samples[RATE_HZ + 1 :]).max() == 0.0


def test_a_whole_figure_lasts_its_length_and_ends_on_the_last_pitch_asked(tmp_path: Path) -> None:
    """Figure 2, four beats a second each: string 3 at fret 10 (D5) is struck on beat 3 and rings to the end."""
    write_lesson(tmp_path)
    lesson = load_lesson(str(tmp_path / "lesson.toml"))
    samples = whole_example(lesson.figures[1], lesson.copedent, 60.0, RATE_HZ, -12.0)
    assert len(samples) == 4 * RATE_HZ
    assert np.abs(samples).max() == pytest.approx(10.0 ** (-12.0 / 20.0), rel=1e-5)
    last = samples[int(2.2 * RATE_HZ) : int(3.8 * RATE_HZ)]
    assert strength(last, 74.0) > 20.0 * max(strength(last, 72.0), strength(last, 76.0))


def test_a_partial_beyond_half_the_rate_is_left_out() -> None:
    """At 8 kHz a string of 1500 Hz has two partials; the third would come back as 3500 Hz."""
    samples = plucked(np.full(8000, 1500.0), 8000)
    spectrum = np.abs(np.fft.rfft(samples))
    assert spectrum[3000] > 20.0 * spectrum[3500]
