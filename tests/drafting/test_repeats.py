"""Whether what was struck comes back, as behind a delay unit."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from livecheck.drafting import repeats
from livecheck.drafting.own import HOP_S
from livecheck.drafting.repeats import LONGEST_S, SHORTEST_S, lag_s
from livecheck.drafting.struck import Attack
from livecheck.hearing.sound.recording import Recording

AT = 60
"""Where each attack gains something again."""


def lag_of(gains: list[float], monkeypatch: pytest.MonkeyPatch) -> float | None:
    """The lag of attacks two seconds apart, given what each gains after the same time."""

    def after(_: Recording, attack: Attack) -> NDArray[np.float64]:
        row = np.full(round((LONGEST_S - SHORTEST_S) / HOP_S), 0.01)
        row[AT] = gains[round(attack.time_s / 2.0)]
        return row

    monkeypatch.setattr(repeats, "_after", after)
    return lag_s(Recording(), [Attack(2.0 * i, (64.0,), (-20.0,), 10.0, 1.0) for i in range(len(gains))])


def test_what_nearly_always_comes_back_is_an_echo(monkeypatch: pytest.MonkeyPatch) -> None:
    assert lag_of([0.2, 0.15, 0.1, 0.2, 0.2, 0.3, 0.02], monkeypatch) == pytest.approx(SHORTEST_S + AT * HOP_S)


def test_what_comes_back_now_and_then_is_played(monkeypatch: pytest.MonkeyPatch) -> None:
    assert lag_of([0.2, 0.15, 0.2, 0.2, 0.01, 0.02, 0.0], monkeypatch) is None
