"""Best paths: as good as what the definition gives, whatever is followed beside them."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.hearing.curves.best_path import FASTEST_STEPS, GLIDE_COST, best_paths

Evidence = NDArray[np.float32]


def _plainly(evidence: Evidence) -> list[int]:
    """Viterbi as it is defined, place by place."""
    scores, origins = [list(evidence[0])], []
    for row in evidence[1:]:
        ways = [
            max(
                (scores[-1][origin] - GLIDE_COST * abs(origin - place), origin)
                for origin in range(max(0, place - FASTEST_STEPS), min(len(row), place + FASTEST_STEPS + 1))
            )
            for place in range(len(row))
        ]
        scores.append([value + gained for (value, _), gained in zip(ways, row.tolist(), strict=True)])
        origins.append([origin for _, origin in ways])
    path = [int(np.argmax(scores[-1]))]
    for row in reversed(origins):
        path.append(row[path[-1]])
    return path[::-1]


@pytest.mark.parametrize("strength", [0.02, 0.1, 1.0])
def test_paths_are_those_of_the_definition(strength: float) -> None:
    rng = np.random.default_rng(7)
    sizes = ((1, 9), (2, 30), (17, 12), (40, 25))
    evidence = [(strength * rng.random(size)).astype(np.float32) for size in sizes]
    assert [path.tolist() for path in best_paths(evidence)] == [_plainly(one) for one in evidence]


def test_a_path_is_the_same_whatever_is_followed_beside_it() -> None:
    rng = np.random.default_rng(8)
    evidence = [rng.random(size).astype(np.float32) for size in rng.integers(7, 40, (6, 2)).tolist()]
    alone = [best_paths([one])[0].tolist() for one in evidence]
    assert [path.tolist() for path in best_paths(evidence)] == alone


def test_nothing_leaps_further_than_a_hand() -> None:
    evidence = np.zeros((12, 40), dtype=np.float32)
    evidence[:6, 2] = evidence[6:, 38] = 1.0
    (path,) = best_paths([evidence])
    assert np.abs(np.diff(path)).max() <= FASTEST_STEPS


def test_nothing_to_follow_has_no_paths() -> None:
    assert best_paths([]) == []
