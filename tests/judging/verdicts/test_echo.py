"""A delay unit's repeats are told by their one lag; strokes at random are not taken for an echo."""

from __future__ import annotations

import numpy as np
import pytest

from livecheck.hearing.heard import HeardNote
from livecheck.judging.verdict import ExtraVerdict
from livecheck.judging.verdicts.echo import is_repeat, lag_s


def _note(start_s: float, midi: float) -> HeardNote:
    times = np.array([start_s, start_s + 0.3])
    return HeardNote(5, start_s, start_s + 0.3, times, np.array([midi, midi]))


def _extra(at_s: float, midi: float) -> ExtraVerdict:
    return ExtraVerdict("extra-note", at_s, None, midi)


NOTES = [_note(start_s, midi) for start_s, midi in ((1.0, 60.0), (1.9, 62.0), (2.6, 64.0), (3.7, 65.0), (4.4, 67.0))]


def test_the_lag_is_learnt_from_the_repeats() -> None:
    extras = [_extra(note.start_s + 0.38, float(note.midis[0])) for note in NOTES]
    found = lag_s(extras, NOTES)
    assert found == pytest.approx(0.38, abs=0.005)
    assert found is not None
    assert all(is_repeat(extra, NOTES, found) for extra in extras)


def test_a_second_repeat_counts_and_another_pitch_does_not() -> None:
    assert is_repeat(_extra(1.0 + 2 * 0.38, 60.0), NOTES, 0.38)
    assert not is_repeat(_extra(1.38, 61.5), NOTES, 0.38)


def test_strokes_at_random_are_no_echo() -> None:
    extras = [
        _extra(note.start_s + off, float(note.midis[0]))
        for note, off in zip(NOTES, (0.2, 0.31, 0.45, 0.6, 0.7), strict=True)
    ]
    assert lag_s(extras, NOTES) is None
    assert lag_s([], NOTES) is None
