"""A rest is suggested again and again."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from livecheck.cli import rest
from livecheck.cli.rest import REST_AFTER_S, Rest


def test_it_is_due_once_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = SimpleNamespace(now_s=100.0)
    monkeypatch.setattr(rest, "time", SimpleNamespace(monotonic=lambda: clock.now_s))
    suggested, due = Rest(), []
    for minute in range(60):
        clock.now_s = 100.0 + 60.0 * minute
        due += [minute] if suggested.is_due() else []
    assert due == [25, 50]
    assert REST_AFTER_S == 25 * 60.0
