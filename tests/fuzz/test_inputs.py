"""A few inputs of every kind in every run of the tests; `python -m tests.fuzz` tries tens of thousands."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzz.kinds import KINDS
from tests.fuzz.trial import trials

COUNTS = {
    "midi graded": 30,
    "wav graded": 12,
    "right lesson": 25,
    "lesson shown": 60,
    "lesson played": 6,
    "lesson heard": 2,
}
COUNT = 200
ALL_RIGHT = ("right lesson", "lesson played", "lesson heard")
"""Of these there is nothing, or next to nothing, that cannot be used."""
SEED = 1
"""Another than the command's, which begins with 0."""


@pytest.mark.parametrize("kind", KINDS)
def test_every_input_is_a_value_or_one_sentence(tmp_path: Path, kind: str) -> None:
    done = list(trials(kind, COUNTS.get(kind, COUNT), SEED, tmp_path))
    bad = [trial for trial in done if trial.outcome in ("broken", "slow")]
    assert not bad, f"{kind} {bad[0].number}: {bad[0].outcome} after {bad[0].lasted_s:.1f} s\n{bad[0].said}"
    outcomes = {trial.outcome for trial in done}
    assert "read" in outcomes
    assert kind in ALL_RIGHT or "unusable" in outcomes
