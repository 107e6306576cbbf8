"""How many takes are done and how long the rest takes, as it stands on a terminal."""

from __future__ import annotations

import pytest

from livecheck.cli.tally import told


@pytest.mark.parametrize(
    ("done", "total", "gone_s", "said"),
    [
        (0, 40, 3.0, "0 of 40 takes"),
        (10, 40, 30.0, "10 of 40 takes, about 90 s left"),
        (10, 100, 60.0, "10 of 100 takes, about 9 min left"),
        (100, 10_000, 300.0, "100 of 10000 takes, about 8.2 hours left"),
        (40, 40, 100.0, "40 of 40 takes"),
    ],
)
def test_what_is_told(done: int, total: int, gone_s: float, said: str) -> None:
    assert told(done, total, gone_s) == said
