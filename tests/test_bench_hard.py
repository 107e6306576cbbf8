"""The hard sets are measuring instruments too: what they put into a take is what their table says."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.bench.amplifier import compressed, in_cabinet
from tests.bench.bank import RATE_HZ
from tests.bench.dirt import dirty
from tests.bench.habit import Habit
from tests.bench.hands import HARD
from tests.bench.levels import HABITS, LEVELS, SOUND, at_level
from tests.bench.picture import picture_worst
from tests.bench.run import Task
from tests.bench.score import FADED_DB, compare
from tests.bench.strings import MODELLED, plucked
from tests.bench.table import calibration, left_out
from tests.bench.take import make
from tests.bench.trial import kinds, tasks

BEAT_S = 0.8
HABITUAL = [(kind, level) for kind in HABITS if kind not in HARD for level in LEVELS]
WRITTEN = [(kind, level) for kind in HARD for level in LEVELS]


def _tone(seconds: float = 4.0, hz: float = 220.0) -> np.ndarray[Any, np.dtype[np.float32]]:
    times = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return np.asarray(0.3 * np.sin(2.0 * np.pi * hz * times) * np.exp(-times), dtype=np.float32)


def _rms(values: Any) -> float:
    return float(np.sqrt(np.mean(np.square(np.asarray(values, dtype=np.float64)))))


@pytest.mark.parametrize("kind", SOUND)
@pytest.mark.parametrize("level", LEVELS)
def test_dirt_is_the_same_for_the_same_seed_and_lasts_as_long(kind: str, level: str) -> None:
    one, other = (dirty(_tone(), kind, level, 3, BEAT_S) for _ in range(2))
    assert np.array_equal(one.samples, other.samples)
    assert len(one.samples) / one.rate_hz == pytest.approx(4.0, abs=0.001)
    assert float(np.abs(one.samples).max()) <= 1.0


@pytest.mark.parametrize("level", LEVELS)
def test_a_delay_in_time_comes_back_after_a_share_of_the_beat_at_its_level(level: str) -> None:
    click = np.zeros(4 * RATE_HZ, dtype=np.float32)
    click[: RATE_HZ // 50] = np.sin(2.0 * np.pi * 220.0 * np.arange(RATE_HZ // 50) / RATE_HZ)
    heard = dirty(click, "delay-in-time", level, 1, BEAT_S).samples
    amounts = at_level(SOUND, "delay-in-time", level)
    loud = [_rms(heard[start : start + RATE_HZ // 50]) for start in range(0, len(heard), RATE_HZ // 50)]
    steps = [step for step in range(5, len(loud)) if loud[step] > 0.1 * loud[0]]
    first = steps[0]
    assert first * 0.02 in [pytest.approx(share * BEAT_S, abs=0.021) for share in (0.25, 0.5, 0.75)]
    assert loud[first] / loud[0] == pytest.approx(amounts["mix"], rel=0.05)
    assert loud[2 * first] / loud[first] == pytest.approx(amounts["feedback"], rel=0.1)


@pytest.mark.parametrize("level", LEVELS)
def test_hum_lies_on_the_multiples_of_the_mains_and_is_as_loud_as_said(level: str) -> None:
    tone = _tone()
    added = dirty(tone, "hum", level, 2, BEAT_S).samples - tone
    assert 20.0 * np.log10(_rms(added) / _rms(tone)) == pytest.approx(at_level(SOUND, "hum", level)["hum_db"], abs=0.1)
    spectrum = np.abs(np.fft.rfft(added)) ** 2
    hz = np.fft.rfftfreq(len(added), 1.0 / RATE_HZ)
    share = {mains: spectrum[np.abs(hz / mains - np.rint(hz / mains)) < 0.02].sum() for mains in (50.0, 60.0)}
    assert max(share.values()) / spectrum.sum() > 0.99


@pytest.mark.parametrize("kind", ["hiss", "band", "reverb", "spring"])
def test_what_is_mixed_in_is_as_loud_as_the_table_says(kind: str) -> None:
    tone = _tone()
    for level in LEVELS:
        amounts = at_level(SOUND, kind, level)
        wanted_db = next(value for name, value in amounts.items() if name.endswith("_db"))
        heard = dirty(tone, kind, level, 5, BEAT_S).samples.astype(np.float64)
        if kind in ("hiss", "band"):
            added = heard - tone
        else:
            added = heard * (tone[0:1000] @ tone[0:1000]) / (heard[0:1000] @ tone[0:1000]) - tone
        assert 20.0 * np.log10(_rms(added) / _rms(tone)) == pytest.approx(wanted_db, abs=0.2)


def test_coding_as_mp3_neither_shifts_nor_changes_a_tone_much() -> None:
    tone = _tone()
    heard = dirty(tone, "mp3", "middle", 0, BEAT_S).samples
    off = {shift: _rms(heard[10 + shift : len(tone) - 10 + shift] - tone[10:-10]) for shift in range(-3, 4)}
    assert min(off, key=lambda shift: off[shift]) == 0
    assert off[0] < 0.06 * _rms(tone)


@pytest.mark.parametrize("level", LEVELS)
def test_a_compressor_turns_a_steady_loud_tone_down_by_its_ratio_and_leaves_a_soft_one(level: str) -> None:
    """Its own definition: what is above the threshold comes out by the ratio less."""
    amounts = at_level(SOUND, "compressed", level)
    times = np.arange(RATE_HZ) / RATE_HZ
    tone = np.concatenate([peak * np.sin(2.0 * np.pi * 500.0 * times) for peak in (1.0, 0.02)])
    heard = compressed(tone, amounts["over_db"], amounts["ratio"])
    loud, soft = (slice(round(at_s * RATE_HZ), round((at_s + 0.2) * RATE_HZ)) for at_s in (0.7, 1.7))
    taken_db = amounts["over_db"] * (1.0 - 1.0 / amounts["ratio"])
    assert 20.0 * np.log10(_rms(heard[loud]) / _rms(tone[loud])) == pytest.approx(-taken_db, abs=0.3)
    assert 20.0 * np.log10(_rms(heard[soft]) / _rms(tone[soft])) == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize(("hz", "wanted_db"), [(20.0, -24.1), (80.0, -3.0), (500.0, 0.0), (9000.0, -24.1)])
def test_a_cabinet_passes_a_band_as_filters_of_two_and_four_poles_do(hz: float, wanted_db: float) -> None:
    """Butterworth's amplitude: 1 / sqrt(1 + ratio ** (2 n)) of n poles."""
    tone = np.sin(2.0 * np.pi * hz * np.arange(2 * RATE_HZ) / RATE_HZ)
    assert 20.0 * np.log10(_rms(in_cabinet(tone)) / _rms(tone)) == pytest.approx(wanted_db, abs=0.5)


@pytest.mark.parametrize("partial", [1, 2, 5, 9])
def test_partials_of_a_stiff_string_lie_where_its_stiffness_says(partial: int) -> None:
    """Fletcher and Rossing, "The Physics of Musical Instruments", 2nd edition, chapter 2: n f sqrt(1 + B n²)."""
    f0_hz = 165.0
    midi = 69.0 + 12.0 * float(np.log2(f0_hz / 440.0))
    sound = plucked(midi, MODELLED, 4.0, RATE_HZ)
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    hz = np.fft.rfftfreq(len(sound), 1.0 / RATE_HZ)
    wanted_hz = partial * f0_hz * np.sqrt(1.0 + 4e-5 * partial**2)
    near = np.abs(hz - partial * f0_hz) < 0.3 * f0_hz
    assert hz[near][np.argmax(spectrum[near])] == pytest.approx(wanted_hz, abs=0.5)


@pytest.mark.parametrize(("kind", "level"), [*HABITUAL, *WRITTEN])
def test_a_habit_is_no_fault(kind: str, level: str) -> None:
    """What a clean player with a habit plays is right by the definitions of the faults."""
    for task in tasks(kind, level, range(4), "steel", clean=True):
        truth = make(task.set_name, task.seed, True, habit=task.habit).truth(None)
        assert all(figure["clean"] for figure in truth["figures"] if figure["found"])


@pytest.mark.parametrize("kind", HABITS)
def test_every_habit_changes_what_is_heard(kind: str) -> None:
    music = "swells:harsh" if kind == "swells" else "double-stops"
    plain, played = (
        [make(music, seed, True, habit=habit).sound("computed") for seed in (0, 4)]
        for habit in (Habit(), Habit(**at_level(HABITS, kind, "harsh")))
    )
    assert any(
        len(one) != len(other) or not np.array_equal(one, other) for one, other in zip(plain, played, strict=True)
    )


def test_a_figure_broken_off_counts_neither_way() -> None:
    habit = Habit(restart_share=1.0, pause_s=0.5)
    take = make("double-stops", 1, True, habit=habit)
    truth = take.truth(None)
    assert truth["broken"]
    found = [figure for figure in truth["figures"] if figure["found"]]
    broken = [{**found[0], "figure": row["figure"], "start_s": row["start_s"]} for row in truth["broken"]]
    tally = compare(truth, {**truth, "figures": [*found, *broken]}, "take")
    assert (tally.told_breaks, tally.invented_figures, tally.lost_figures) == (len(broken), 0, 0)
    assert tally.alarms == 0


def test_intruders_are_in_the_sound_and_not_in_the_truth() -> None:
    take = make("lines", 2, True, habit=Habit(intruders=2.0, pause_s=0.5))
    assert len(take.intruders) == 2
    assert len([f for f in take.truth(None)["figures"] if f["found"]]) == len(take.performances)
    assert len(take.played) == len(take.performances) + 2


@pytest.mark.parametrize(("confidence", "alarms", "unsure"), [(0.3, 0, 1), (0.8, 1, 0)])
def test_a_fault_of_which_the_report_is_unsure_accuses_nobody(confidence: float, alarms: int, unsure: int) -> None:
    truth = make("double-stops", 0, True).truth(None)
    rows = [{**row, "confidence": 0.95} for row in truth["figures"][0]["checkpoints"]]
    rows[0] |= {"faults": ["missed"], "confidence": confidence}
    report = {**truth, "figures": [{**truth["figures"][0], "checkpoints": rows}, *truth["figures"][1:]]}
    tally = compare(truth, report, "take")
    assert (tally.alarms, tally.unsure) == (alarms, unsure)
    assert len(tally.beliefs) == len(rows)
    assert f"{100.0 * (len(rows) - 1) / (len(rows) - 1):.1f} %" in calibration(tally).splitlines()[-1]


@pytest.mark.parametrize(("asked", "said", "name"), [([], ["cut-short"], "invented"), (["cut-short"], [], "lost")])
def test_what_fading_excuses_is_counted(asked: list[str], said: list[str], name: str) -> None:
    truth = make("double-stops", 0, True).truth(None)
    rows = truth["figures"][0]["checkpoints"]
    faded = [{**rows[0], "faults": asked, "later_db": FADED_DB - 1.0}, *rows[1:]]
    told = [{**rows[0], "faults": said}, *rows[1:]]
    ours, theirs = ({**truth, "figures": [{**truth["figures"][0], "checkpoints": some}]} for some in (faded, told))
    tally = compare(ours, theirs, "take")
    assert (tally.f1("holding")[3:], tally.excused) == ((0, 0, 0), {"found": 0, "invented": 0, "lost": 0} | {name: 1})
    assert f" 1 {name}" in left_out(tally)
    assert left_out(compare(truth, truth, "take")) == ""


def test_every_kind_has_tasks() -> None:
    assert set(kinds()) == {"dry", *SOUND, *HABITS, *HARD}
    for kind in kinds():
        assert len(tasks(kind, "mild", [0, 1], "steel")) == 2


def test_a_picture_is_drawn_of_a_figure_with_wrong_verdicts(tmp_path: Path) -> None:
    """In so loud a band something is always wrong."""
    task = Task("grips", 2, "computed", "band:harsh", dense=True)
    made = picture_worst([task], tmp_path, 1)
    assert [path.read_bytes()[:8] for path in made] == [b"\x89PNG\r\n\x1a\n"]


def test_of_two_strings_in_unison_none_has_a_fault_of_its_own() -> None:
    """Which of them it is no ear could tell."""
    for task in tasks("doubled", "harsh", range(12), "steel"):
        take = make(task.set_name, task.seed, dense=True)
        for figure in take.truth(None)["figures"]:
            rows = {(row["step"], row["string"]): row for row in figure["checkpoints"]}
            for (step, string), row in rows.items():
                for (other_step, other), beside in rows.items():
                    alike = abs(row["expected_midi"] - beside["expected_midi"]) < 0.5
                    if step == other_step and other != string and alike:
                        assert row["faults"] == beside["faults"]
