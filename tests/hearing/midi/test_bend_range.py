"""Bend ranges from a slide of two frets. A full bend is 8192 steps (MIDI 1.0 Detailed Specification)."""

from __future__ import annotations

import mido
import pytest

from livecheck.hearing.midi.bend_range import REST_S, BendRange


def slid(semitones: float, reach: float, start: int = 0, key: int | None = None) -> BendRange:
    """A string struck at 1 s and slid for half a second, on an instrument whose bends reach so far."""
    bends = BendRange(2.0)
    bends.feed(0.9, mido.Message("pitchwheel", channel=4, pitch=start))
    bends.feed(1.0, mido.Message("note_on", channel=4, note=60, velocity=80))
    bends.feed(1.1, mido.Message("pitchwheel", channel=7, pitch=5000))
    for step in range(1, 51):
        pitch = min(8191, start + round(semitones * step / 50 / reach * 8192))
        bends.feed(1.2 + step / 100.0, mido.Message("pitchwheel", channel=4, pitch=pitch))
        if step == 25 and key is not None:
            bends.feed(1.2 + step / 100.0, mido.Message("note_on", channel=4, note=key, velocity=80))
    return bends


@pytest.mark.parametrize("reach", [2.0, 12.0, 24.0, 48.0])
@pytest.mark.parametrize("off_cents", [-5.0, 0.0, 5.0])
def test_usual_ranges_are_found_though_the_hand_is_a_little_off(reach: float, off_cents: float) -> None:
    bends = slid(2.0 + off_cents / 100.0, reach)
    assert bends.semitones(1.7 + REST_S / 2.0) is None, "it may still go on"
    assert bends.semitones(1.7 + REST_S + 0.01) == reach


def test_an_unusual_range_is_told_as_measured_and_a_bend_at_the_start_is_taken_off() -> None:
    assert slid(2.0, 9.0).semitones(3.0) == pytest.approx(9.0, abs=0.05)
    assert slid(2.0, 24.0, start=-300).semitones(3.0) == 24.0


def test_without_a_slide_nothing_is_known() -> None:
    assert BendRange(2.0).semitones(9.0) is None
    assert slid(0.01, 24.0).semitones(9.0) is None


def test_an_instrument_that_changes_keys_is_noticed() -> None:
    assert slid(2.0, 24.0, key=61).was_struck_anew
    assert not slid(2.0, 24.0).was_struck_anew
