"""The line that tells how far a long take is read."""

from __future__ import annotations

import io
import sys
import time

import pytest

from livecheck.cli.progress import PATIENCE_S, Progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


class Clock:
    now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(time, "monotonic", clock)
    return clock


def told(stream: io.StringIO, clock: Clock, monkeypatch: pytest.MonkeyPatch) -> str:
    """What stands on a stream after a reading in which every second of the take took a third of one."""
    monkeypatch.setattr(sys, "stderr", stream)
    with Progress("a\nb.wav", 10.0) as progress:
        for second in range(10):
            clock.now_s += PATIENCE_S / 3.0
            progress.at(second + 1.0)
            progress.at(second + 1.0)
        progress.judging()
    return stream.getvalue()


def test_one_line_is_rewritten_and_taken_away(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    first, *lines, wiped, last = told(Terminal(), clock, monkeypatch).split("\r")
    assert (first, last) == ("", "")
    assert [line.rstrip() for line in lines] == [
        *(f"a b.wav: {second} s of 10 s heard" for second in range(4, 11)),
        "a b.wav: heard, judging it now",
    ]
    assert wiped.isspace()
    assert len(wiped) >= len(lines[-1])


def test_nothing_where_there_is_no_terminal(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    assert told(io.StringIO(), clock, monkeypatch) == ""


def test_nothing_where_there_is_no_standard_error(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", None)
    with Progress("take.wav", 10.0) as progress:
        clock.now_s += 2 * PATIENCE_S
        progress.at(5.0)


def test_nothing_of_what_is_done_at_once(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with Progress("take.wav", 10.0) as progress:
        clock.now_s += 0.99 * PATIENCE_S
        progress.at(10.0)
        progress.judging()
    assert terminal.getvalue() == ""


def test_a_long_take_is_judged_for_a_while(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with Progress(f"{'deep/' * 30}take.wav", 600.0) as progress:
        clock.now_s += 0.5 * PATIENCE_S
        progress.judging()
        (line,) = terminal.getvalue().split("\r")[1:]
    assert line.endswith("deep/take.wav: heard, judging it now")
    assert len(line) < 80
