"""The benchmark is a measuring instrument: its truth is checked against librosa, mido, and what the faults mean."""

from __future__ import annotations

import copy
from functools import cache
from typing import Any

import librosa
import numpy as np
import pytest

from livecheck.lesson.expectation import expect
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import load_copedent
from tests.bench import lessons, render
from tests.bench.bank import PRE_S, RATE_HZ, _flattened, bank
from tests.bench.performance import Manner, Player
from tests.bench.score import GROUPS, compare
from tests.bench.slips import Slip
from tests.bench.take import Take, make

Row = dict[str, Any]
SEEDS = range(12)
HOP = 32
SETS = tuple(lessons.SETS)


@cache
def _take(set_name: str, seed: int, clean: bool = False) -> Take:
    return make(set_name, seed, clean)


def _found(set_name: str, clean: bool = False) -> list[tuple[Take, Row]]:
    takes = [_take(set_name, seed, clean) for seed in SEEDS]
    return [(take, figure) for take in takes for figure in take.truth(None)["figures"] if figure["found"]]


def _steps_s(take: Take, figure: Row) -> list[float]:
    written = next(f for f in take.lesson.figures if f.name == figure["figure"])
    return [figure["start_s"] + (float(step.beat) - 1.0) * 60.0 / figure["tempo"] for step in written.steps]


def _tolerance_ms(take: Take, figure: Row, row: Row) -> float:
    times_s = _steps_s(take, figure)
    here_s = times_s[row["step"] - 1]
    gap_ms: float = 1000.0 * min(abs(other - here_s) for other in times_s if other != here_s)
    return min(80.0 if row["kind"] == "pick" else 100.0, 0.25 * gap_ms)


@pytest.mark.parametrize("set_name", SETS)
def test_the_same_seed_gives_the_same_take(set_name: str) -> None:
    one, other = make(set_name, 3), make(set_name, 3)
    assert one.lesson_text == other.lesson_text
    assert one.truth(None) == other.truth(None)
    assert one.truth(None) != make(set_name, 4).truth(None)


@pytest.mark.parametrize("set_name", SETS)
def test_a_clean_player_has_no_faults(set_name: str) -> None:
    for _, figure in _found(set_name, clean=True):
        assert figure["clean"]
        assert all(row["judged"] and row["faults"] == [] for row in figure["checkpoints"])


@pytest.mark.parametrize("set_name", SETS)
def test_what_is_called_clean_lies_well_inside_the_tolerances(set_name: str) -> None:
    for take, figure in _found(set_name):
        for row in figure["checkpoints"]:
            if not row["judged"] or row["faults"]:
                continue
            assert row["timing_ms"] is None or abs(row["timing_ms"]) <= 0.7 * _tolerance_ms(take, figure, row) + 0.1
            assert row["cents"] is None or abs(row["cents"]) <= 0.7 * 15.0 + 2.5


@pytest.mark.parametrize("set_name", SETS)
def test_each_planted_fault_is_that_fault_by_its_definition(set_name: str) -> None:
    for take, figure in _found(set_name):
        expectation = expect(next(f for f in take.lesson.figures if f.name == figure["figure"]), take.lesson.copedent)
        asked = {(c.step, c.string): c for c in expectation.checkpoints}
        for row in figure["checkpoints"]:
            for fault in row["faults"]:
                off = row["timing_ms"]
                if fault == "missed":
                    assert row["kind"] == "pick"
                    assert row["heard_s"] is None
                elif fault == "wrong-note":
                    assert abs(row["cents"]) >= 60.0 * 1.3
                elif fault == "missed-move":
                    heard = row["heard_midi"] - take.tuning_cents / 100.0
                    before = asked[row["step"], row["string"]].from_midi
                    assert before is not None
                    assert abs(heard - before) < abs(heard - row["expected_midi"])
                elif fault in ("early", "late"):
                    assert (off > 0.0) == (fault == "late")
                    assert abs(off) >= 1.4 * _tolerance_ms(take, figure, row) - 0.1
                    assert abs(off) <= 60_000.0 / figure["tempo"]
                elif fault in ("flat", "sharp"):
                    assert (row["cents"] > 0.0) == (fault == "sharp")
                    assert 15.0 * 1.4 <= abs(row["cents"]) <= 60.0 * 0.8


def test_every_fault_is_planted() -> None:
    figures = [figure for set_name in SETS for _, figure in _found(set_name)]
    seen = {fault for figure in figures for row in figure["checkpoints"] for fault in row["faults"]}
    seen |= {extra["fault"] for figure in figures for extra in figure["extras"]}
    assert seen == {fault for group in GROUPS.values() for fault in group}
    clean_share = np.mean([figure["clean"] for figure in figures])
    assert 0.25 < clean_share < 0.55


@pytest.mark.parametrize("set_name", SETS)
def test_after_a_failure_later_moves_of_the_string_are_not_judged(set_name: str) -> None:
    for take, figure in _found(set_name):
        expectation = expect(next(f for f in take.lesson.figures if f.name == figure["figure"]), take.lesson.copedent)
        rows = {(row["step"], row["string"]): row for row in figure["checkpoints"]}
        assert rows.keys() == {(c.step, c.string) for c in expectation.checkpoints}
        for note in expectation.notes:
            failed = False
            for checkpoint in note.checkpoints:
                row = rows[checkpoint.step, checkpoint.string]
                assert row["judged"] is not failed
                failed = failed or bool({"missed", "wrong-note", "missed-move"} & set(row["faults"]))


def test_what_sounds_has_the_pitch_that_the_truth_tells() -> None:
    """Against YIN in librosa (de Cheveigné and Kawahara 2002), on strings that sound alone, where held long enough."""
    errors = []
    for seed in SEEDS[:4]:
        take = _take("strings", seed, clean=True)
        sound = take.sound("computed")
        for figure in take.truth("computed")["figures"]:
            errors += [_pitch_error_cents(sound, row) for row in figure["checkpoints"] if _is_held(figure, row)]
    assert len(errors) > 30
    assert max(errors) < 3.0


def _is_held(figure: Row, row: Row) -> bool:
    """Long enough for a window of YIN, and without another string near."""
    others = [other["expected_s"] for other in figure["checkpoints"] if other is not row]
    return row["heard_midi"] is not None and min((abs(o - row["expected_s"]) for o in others), default=9.0) > 0.55


def _pitch_error_cents(sound: Any, row: Row) -> float:
    start = round((row["heard_s"] + 0.06) * RATE_HZ)
    piece = sound[start : start + round(0.15 * RATE_HZ)]
    hz = 440.0 * 2.0 ** ((row["heard_midi"] - 69.0) / 12.0)
    found = librosa.yin(
        piece, fmin=hz / 1.3, fmax=hz * 1.3, sr=RATE_HZ, frame_length=4096, hop_length=512, center=False
    )
    return float(abs(1200.0 * np.log2(np.median(found) / hz)))


@pytest.mark.parametrize("at_s", [0.3, 0.8, 1.3])
def test_a_string_that_dies_away_in_a_recording_s_noise_keeps_its_pitch(at_s: float) -> None:
    """Sounds of a frequency that is known by how they are made, one of them under noise by the end; read by a Fourier
    transform of a quarter of a second, which tells a tone from noise all around it."""
    times, hz = np.arange(2 * RATE_HZ) / RATE_HZ, 930.0
    tone = sum(10.0 ** (-(10.0 + 30.0 * times) * n / 20.0) * np.sin(2.0 * np.pi * n * hz * times) for n in (1, 2))
    noise = np.random.default_rng(5).normal(0.0, 0.004, len(times))
    sound = _flattened(np.pad(tone + noise, (RATE_HZ // 10, 0)).astype(np.float32), 82.0).samples
    piece = sound[round(at_s * RATE_HZ) :][: RATE_HZ // 4] * np.hanning(RATE_HZ // 4)
    spectrum = np.abs(np.fft.rfft(piece, 16 * len(piece)))
    found_hz = float(np.argmax(spectrum)) * RATE_HZ / (16 * len(piece))
    assert abs(1200.0 * np.log2(found_hz / 932.33)) < 5.0


def test_what_sounds_begins_when_the_truth_says() -> None:
    """Against the onset strength of librosa: its largest rise near each pick of single-note lines.

    Its own delay is measured on a tone that is put at a known time without the renderer.
    """
    known = np.zeros(RATE_HZ, dtype=np.float32)
    begin = RATE_HZ // 2 - round(PRE_S * RATE_HZ)
    known[begin:] = bank("computed").nearest(64.0).samples[: RATE_HZ - begin]
    delay_ms = _rise_ms(_onset_strength(known), 0.5)
    errors_ms = []
    for seed in SEEDS[:3]:
        take = _take("lines", seed, clean=True)
        strength = _onset_strength(take.sound("computed"))
        for figure in take.truth("computed")["figures"]:
            errors_ms += [
                _rise_ms(strength, r["heard_s"]) - delay_ms for r in figure["checkpoints"] if r["kind"] == "pick"
            ]
    assert len(errors_ms) > 60
    assert abs(delay_ms) < 6.0
    assert np.percentile(np.abs(errors_ms), 95) < 5.0


def _onset_strength(sound: Any) -> Any:
    return librosa.onset.onset_strength(y=sound, sr=RATE_HZ, n_fft=256, hop_length=HOP, lag=4, n_mels=12, fmin=300.0)


def _rise_ms(strength: Any, time_s: float) -> float:
    """When the strength is greatest, against a time, in milliseconds; within 30 ms."""
    middle = round(time_s * RATE_HZ / HOP)
    most = int(np.argmax(strength[middle - 45 : middle + 45])) + middle - 45
    return 1000.0 * (most * HOP / RATE_HZ - time_s)


def test_the_midi_file_strikes_and_bends_as_the_truth_tells() -> None:
    """Read with mido: a note-on for each pick, on the string's channel, at its time; bends in the range of RPN 0."""
    take = _take("grips", 1)
    wanted = sorted(
        [(row["heard_s"], row["string"]) for figure in take.truth(None)["figures"] for row in figure["checkpoints"]
         if row["kind"] == "pick" and row["heard_s"] is not None and "wrong-note" not in row["faults"]]
    )  # fmt: skip
    now_s, struck = 0.0, []
    for message in render.midi(take.performances, take.tuning_cents):
        now_s += message.time
        if message.type == "note_on":
            struck.append((now_s, message.channel + 1))
    for time_s, string in wanted:
        assert min(abs(time_s - other_s) for other_s, on in struck if on == string) < 0.001


def test_the_truth_compared_with_itself_is_perfect() -> None:
    for set_name in SETS:
        truth = _take(set_name, 1).truth(None)
        tally = compare(truth, copy.deepcopy(truth), "take")
        assert not tally.wrong
        assert not sum(tally.lost.values()) + sum(tally.invented.values())
        assert tally.hit.total() == sum(len(row["faults"]) for f in truth["figures"] for row in f["checkpoints"]) + sum(
            len(f["extras"]) for f in truth["figures"]
        )


def test_each_wrong_verdict_is_counted() -> None:
    truth = _take("grips", 1, clean=True).truth(None)
    report = copy.deepcopy(truth)
    figure = report["figures"][0]
    figure["checkpoints"][0]["faults"] = ["flat"]
    figure["extras"] = [{"fault": "extra-note", "at_s": figure["start_s"] + 1.0, "string": None, "midi": 60.0}]
    report["figures"][1]["found"] = False
    tally = compare(truth, report, "take")
    assert tally.invented == {"flat": 1, "extra-note": 1}
    assert tally.alarms == 1
    assert tally.lost_figures == 1
    assert len(tally.wrong) == 3
    assert tally.f1("intonation")[0] == 0.0


def test_groups_hold_every_fault_once() -> None:
    named = [fault for group in GROUPS.values() for fault in group]
    assert len(named) == len(set(named)) == 11


@pytest.mark.parametrize("set_name", SETS)
def test_lessons_are_read_back_and_ask_for_no_unisons(set_name: str) -> None:
    for seed in range(30):
        lesson = lessons.parse(lessons.write(set_name, seed), "made")
        assert 4 <= len(lesson.figures) <= 6
        for figure in lesson.figures:
            notes = expect(figure, lesson.copedent).notes
            for beat in sorted({c.beat for note in notes for c in note.checkpoints}):
                sounding = [
                    note.midi_at(np.array([beat]))[0] for note in notes if note.start_beat <= beat < note.end_beat
                ]
                assert np.all(np.diff(np.sort(sounding)) > 0.8)


@pytest.mark.parametrize(("step", "after_s"), [(1, 0.8), (2, 0.05)])
def test_what_is_struck_while_the_bar_is_on_its_way_begins_where_the_bar_is(step: int, after_s: float) -> None:
    """The bar, a little late, takes all strings along: a stray is always as far from the string that was asked for."""
    text = """format = 1
title = "a slide"
tempo = 60
copedent = "e9-ten-string"
[[figure]]
name = "1"
length = 4
steps = [{ beat = 1, fret = 3, pick = [5] }, { beat = 2, fret = 7, over = 0.5 }]
"""
    lesson = read_lesson(text, "a slide", load_copedent)
    slips = [Slip("late-bar", 2, amount=0.1), Slip("stray", step, amount=after_s, other=8)]
    manner = Manner(beat_s=1.0, roundness=0.5, vibrato_cents=0.0, vibrato_hz=5.0, loose_vibrato=False, jitter_s=0.0)
    expectation = expect(lesson.figures[0], lesson.copedent)
    performed = Player(expectation, lesson.copedent, manner, 0.0, 5.0, slips, np.random.default_rng(0)).perform()
    (stray,), (note,) = performed.strays, performed.notes
    assert note is not None
    assert 3.2 < note.midi_at(stray.start_s) - lesson.copedent.open_midi(5) < 6.8
    apart = [note.midi_at(time_s) - stray.midi_at(time_s) for time_s in stray.times_s]
    between = lesson.copedent.open_midi(5) - lesson.copedent.open_midi(8)
    assert np.abs(np.array(apart) - between).max() < 1e-3  # curves are read between points 2 ms apart
