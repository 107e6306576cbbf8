"""What was played, heard without a lesson, against mir_eval's matching of notes."""

from __future__ import annotations

import mir_eval
import numpy as np
import pytest

from livecheck.drafting.line import Line
from livecheck.drafting.take import lines_in_audio
from livecheck.sources.library import load_copedent
from tests.drafting.plucked import RATE_HZ, Knots, plucked

E9 = load_copedent("e9-ten-string")
SINGLES: list[Knots] = [
    [(0.5, 64.0), (1.0, 64.0)],
    [(1.05, 66.0), (1.5, 66.0)],
    [(1.55, 68.0), (1.9, 68.0), (2.1, 71.0), (2.9, 71.0)],
    [(3.4, 59.0), (4.2, 59.0)],
]
PAIRS: list[Knots] = [
    [(0.5, 62.0), (1.4, 62.0), (1.7, 67.0), (2.6, 67.0)],
    [(0.5, 66.0), (1.4, 66.0), (1.7, 71.0), (2.6, 71.0)],
    [(2.7, 66.0), (3.3, 66.0), (3.5, 68.0), (4.4, 68.0)],
    [(2.7, 71.0), (4.4, 71.0)],
]


def heard(strings: list[Knots]) -> list[Line]:
    return lines_in_audio([plucked(strings, 5.0)], RATE_HZ, E9)


def as_notes(notes: list[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([[at_s, at_s + 0.1] for at_s, _ in notes]), mir_eval.util.midi_to_hz(
        np.array([m for _, m in notes])
    )


@pytest.mark.parametrize("strings", [SINGLES, PAIRS], ids=["single notes", "double stops"])
def test_every_pick_is_heard_and_no_glide_is_taken_for_one(strings: list[Knots]) -> None:
    wanted = as_notes([knots[0] for knots in strings])
    told = as_notes([(line.start_s, line.rests[0].midi) for line in heard(strings)])
    scores = mir_eval.transcription.precision_recall_f1_overlap(*wanted, *told, offset_ratio=None)
    assert scores[:3] == (1.0, 1.0, 1.0)


@pytest.mark.parametrize("strings", [SINGLES, PAIRS], ids=["single notes", "double stops"])
def test_every_glide_is_heard_with_its_end(strings: list[Knots]) -> None:
    wanted = sorted((knots[2][0], knots[2][1]) for knots in strings if len(knots) == 4)
    told = [(rest.arrived_s, rest.midi) for line in heard(strings) for rest in line.rests[1:]]
    told.sort(key=lambda one: (round(one[0], 1), one[1]))
    assert [midi for _, midi in told] == pytest.approx([midi for _, midi in wanted], abs=0.1)
    assert [at_s for at_s, _ in told] == pytest.approx([at_s for at_s, _ in wanted], abs=0.03)


def test_noise_has_no_strings() -> None:
    noise = np.random.default_rng(3).normal(0.0, 0.1, 5 * RATE_HZ).astype(np.float32)
    assert lines_in_audio([noise], RATE_HZ, E9) == []


def test_an_echo_is_not_what_was_played() -> None:
    """Every string comes back once after 0.31 s, half as loud."""
    strings: list[Knots] = [
        [(0.3 + 0.75 * i, m), (0.8 + 0.75 * i, m)] for i, m in enumerate((64, 66, 68, 69, 71, 69, 68))
    ]
    dry = plucked(strings, 6.5)
    echo = np.zeros_like(dry)
    lag = round(0.31 * RATE_HZ)
    echo[lag:] = 0.5 * dry[:-lag]
    told = lines_in_audio([dry + echo], RATE_HZ, E9)
    assert [round(line.rests[0].midi) for line in told] == [64, 66, 68, 69, 71, 69, 68]
