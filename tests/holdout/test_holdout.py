"""The hold-out's truth and scorer, on reports made here: no take is graded."""

from typing import Any

import numpy as np
import pytest

from tests.holdout.effects import EFFECTS
from tests.holdout.instrument import NAMES, note_midi, read
from tests.holdout.music import compose
from tests.holdout.playing import Take, play
from tests.holdout.rendering import render
from tests.holdout.scoring import compare
from tests.holdout.truth import Attempt, Checkpoint, Extra
from tests.holdout.voices import additive


def take(seed: int, name: str = "e9-ten-string") -> Take:
    rng = np.random.default_rng(seed)
    return play(rng, compose(rng, read(name)))


def told(attempts: list[Attempt]) -> dict[str, Any]:
    """The report that says just what was planted."""
    figures = []
    for attempt in attempts:
        checkpoints = [
            {
                "step": c.step,
                "string": c.string,
                "kind": c.kind,
                "judged": True,
                "timing_ms": 0,
                "cents": 0,
                "cause": None,
            }
            | {"faults": [c.fault] if c.fault else []}
            for c in attempt.checkpoints
        ]
        extras = [{"fault": e.fault, "at_s": e.at_s, "midi": e.midi, "string": e.string} for e in attempt.extras]
        figure = {"figure": attempt.figure, "found": True, "start_s": attempt.start_s}
        figures.append(figure | {"checkpoints": checkpoints, "extras": extras})
    return {"figures": figures}


def test_pitches_are_the_copedents() -> None:
    e9 = read("e9-ten-string")
    assert note_midi("A4") == 69  # the MIDI standard: key 69 is A at 440 Hz
    assert e9.pitch(5, 3, ("A", "C")) == note_midi("B3") + 3 + 2  # two raises do not add (contract, 1)


@pytest.mark.parametrize("name", NAMES)
def test_about_one_checkpoint_in_six_is_faulty(name: str) -> None:
    checkpoints = [c for seed in range(1, 9) for attempt in take(seed, name).attempts for c in attempt.checkpoints]
    share = sum(c.fault is not None for c in checkpoints) / len(checkpoints)
    assert 0.08 < share < 0.25


def test_every_sound_ends_after_it_begins() -> None:
    for seed in range(1, 9):
        assert all(sound.end_s > sound.start_s for sound in take(seed).sounds)


def test_no_fault_is_planted_where_the_player_stopped() -> None:
    takes = [take(seed, name) for seed in range(1, 9) for name in NAMES]
    checkpoints = [c for made in takes for attempt in made.attempts for c in attempt.checkpoints]
    stopped = [c for c in checkpoints if "note" in c.open_groups]
    assert stopped
    assert all(c.fault is None for c in stopped)


def test_a_true_report_scores_full_marks_and_an_empty_one_none() -> None:
    attempts = take(3).attempts
    score = compare(told(attempts), attempts)
    assert not score.wrong
    assert score.alarms == 0
    empty = compare({"figures": []}, attempts)
    assert sum(empty.right.values()) == 0
    assert sum(empty.gone.values()) == sum(score.right.values()) > 0


def test_a_wrong_name_is_gone_and_new() -> None:
    attempt = Attempt("1", 1.0, 9.0, [Checkpoint(1, 5, "pick", 1.0, "late")], [Extra("extra-pick", 2.0, 60.0, 5)])
    report = told([attempt])
    report["figures"][0]["checkpoints"][0]["faults"] = ["early"]
    report["figures"][0]["extras"][0]["at_s"] = 3.0
    score = compare(report, [attempt])
    assert (score.right["timing"], score.gone["timing"], score.new["timing"]) == (0, 1, 1)
    assert (score.right["extras"], score.gone["extras"], score.new["extras"]) == (0, 1, 1)


def test_a_figure_that_nobody_played_is_an_alarm() -> None:
    attempts = take(3).attempts
    report = told(attempts)
    report["figures"].append(report["figures"][0] | {"start_s": 500.0})
    score = compare(report, attempts)
    assert (score.invented, score.alarms, len(score.wrong)) == (1, 1, 1)


def test_what_was_not_found_is_no_clean_checkpoint() -> None:
    attempts = take(3).attempts
    score = compare({"figures": []}, attempts)
    assert score.clean == 0
    assert score.lost == sum(len(attempt.checkpoints) for attempt in attempts)


def test_a_string_said_to_ring_on_is_an_alarm() -> None:
    attempt = Attempt("1", 1.0, 9.0, [Checkpoint(1, 5, "pick", 1.0)])
    report = told([attempt])
    report["figures"][0]["checkpoints"][0]["faults"] = ["rang-on"]
    score = compare(report, [attempt])
    assert (score.new["ends"], score.alarms) == (1, 1)


def test_a_late_pick_leaves_open_whether_the_strings_before_it_rang_on() -> None:
    late = [
        (attempt, c)
        for seed in range(1, 9)
        for attempt in take(seed).attempts
        for c in attempt.checkpoints
        if (c.kind, c.fault) == ("pick", "late")
    ]
    assert late
    for attempt, pick in late:
        before = max(c.step for c in attempt.checkpoints if c.step < pick.step)
        assert all("ends" in c.open_groups for c in attempt.checkpoints if c.step == before)


@pytest.mark.parametrize("effect", EFFECTS)
def test_effects_keep_the_length_and_stay_finite(effect: str) -> None:
    short = take(1)
    short.sounds, short.slides, short.end_s = short.sounds[:2], [], 6.0
    wave = render(np.random.default_rng(1), short, additive, EFFECTS[effect])
    assert len(wave) == 7 * 48000
    assert np.abs(wave).max() == pytest.approx(0.5)
