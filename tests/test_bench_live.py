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
