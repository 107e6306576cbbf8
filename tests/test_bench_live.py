"""What the benchmark of playing live counts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livecheck.engine import Brief
from livecheck.sources.library import load_tolerances
from tests.bench import live
from tests.bench.take import make
from tests.reports.verdicts import figure_of, lesson_of

LESSON = lesson_of()
BRIEF = Brief(LESSON, LESSON.figures, load_tolerances("standard"))
WALK = figure_of(LESSON, "walk")
DECIDABLE_S = 8.0
"""It begins at 1 s, a beat is 1 s, the last note arrives on beat 7 and is written to the end of beat 8."""


def test_latency_is_from_when_the_last_checkpoint_could_be_decided() -> None:
    run = live.Run()
    run.add([(DECIDABLE_S + 0.1, WALK)], [WALK], BRIEF)
    late = replace(WALK, checkpoints=tuple(replace(c, heard_s=(c.heard_s or 0.0) + 0.3) for c in WALK.checkpoints))
    run.add([(DECIDABLE_S + 0.1, WALK)], [late], BRIEF)
    missed = replace(WALK, checkpoints=tuple(replace(c, heard_s=None) for c in WALK.checkpoints))
    run.add([(DECIDABLE_S + 0.1, WALK)], [missed], BRIEF)
    assert run.latencies_ms == pytest.approx([100.0, -200.0, 100.0])


def test_what_was_told_is_counted_as_kept_only_if_the_end_says_the_same() -> None:
    flat = figure_of(LESSON, "walk", {(1, 6): {"off_cents": -30.0, "faults": ("flat",)}})
    run = live.Run()
    run.add([(9.0, WALK), (29.0, replace(WALK, start_s=21.0))], [flat, replace(WALK, start_s=21.1)], BRIEF)
    run.add([(9.0, WALK)], [replace(WALK, start_s=31.0)], BRIEF)
    assert (run.told, run.kept, run.found, len(run.latencies_ms)) == (3, 1, 3, 2)


def test_a_take_of_midi_is_told_soon() -> None:
    run = live.Run()
    live.play_midi(make("strings", 0, clean=True), run)
    assert run.told >= run.found - 1 > 0
    assert run.kept == run.told
    assert max(run.latencies_ms) < 500.0
    assert run.played_s > 10.0


def test_memory_is_compared_in_a_take_s_third_minute_and_its_last(monkeypatch: pytest.MonkeyPatch) -> None:
    """It doubles while the first figures are heard, grows by a byte a second from then on, and leaps now and then."""
    memory = live.Memory()
    for now_s in range(601):
        leap = 1000 if now_s % 20 else 0
        monkeypatch.setattr(live, "_resident_bytes", lambda s=now_s, by=leap: (500 if s < 100 else 1000) + s + by)
        memory.look(float(now_s))
    assert memory.grown_bytes == [560.0 - 120.0]


def test_of_a_short_take_memory_tells_nothing() -> None:
    memory = live.Memory()
    for now_s in range(200):
        memory.look(float(now_s))
    assert memory.grown_bytes == []
