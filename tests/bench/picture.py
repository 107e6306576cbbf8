"""Pictures of figures whose verdicts are wrong: what was asked, played and heard, with the picks and the verdicts.

Needs Matplotlib. Across is time in seconds, up is pitch as MIDI numbers.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.listening import Listener
from livecheck.hearing.score import TimedScore
from tests.bench import grading
from tests.bench.performance import Performance
from tests.bench.room import in_room, is_wet
from tests.bench.run import Task
from tests.bench.score import Wrong, compare
from tests.bench.take import make

AROUND_S = 0.7
COLOURS = ("#1f77b4", "#d95f02", "#2c8c3c", "#7b3fa0", "#8c564b", "#c2185b", "#5f5f5f", "#808000", "#008080", "#404080")
SIZE_INCHES = (15.0, 8.0)


def picture_worst(tasks: Sequence[Task], folder: Path, most: int) -> list[Path]:
    """Pictures of all figures with wrong verdicts of some takes, the takes with most of them first."""
    folder.mkdir(parents=True, exist_ok=True)
    made: list[Path] = []
    for task in tasks:
        if len(made) < most:
            made += _take(task, folder, most - len(made))
    return made


def _take(task: Task, folder: Path, most: int) -> list[Path]:
    take = make(task.set_name, task.seed, task.clean, habit=task.habit, dense=task.dense)
    assert task.instrument is not None
    sound = in_room(take.sound(task.instrument), task.room, task.seed, take.beat_s)
    listened: list[tuple[TimedScore, list[HeardNote]]] = []
    hear = Listener.hear

    def keeping(listener: Listener, score: TimedScore, from_s: float, until_s: float) -> list[HeardNote]:
        notes = hear(listener, score, from_s, until_s)
        listened.append((score, notes))
        return notes

    with patch.object(Listener, "hear", keeping):
        report = grading.grade_audio(take, sound.samples, sound.rate_hz)
    truth = take.truth(task.instrument)
    wrong = compare(truth, report, f"{task.row} {task.seed}", is_wet(task.room)).wrong
    performed = [p for p in take.performances if p.broken_s is None]
    made: list[Path] = []
    for performance, figure in zip(performed, (f for f in truth["figures"] if f["found"]), strict=True):
        mine = [w for w in wrong if w.figure == figure["figure"] and w.attempt == figure["attempt"]]
        if not mine or len(made) == most:
            continue
        near = [(s, n) for s, n in listened if abs(s.start_s - performance.start_s) < AROUND_S]
        told = [f for f in report["figures"] if f["found"] and abs(f["start_s"] - performance.start_s) < 2.0 * AROUND_S]
        name = re.sub(r"[^\w.-]+", "-", f"{task.row}-{task.seed}-figure-{figure['figure']}.{figure['attempt']}")
        path = folder / f"{name}.png"
        _draw(path, performance, take.tuning_cents / 100.0, near[-1:], told[:1], mine, sound.samples, sound.rate_hz)
        made.append(path)
    return made


def _draw(
    path: Path, performance: Performance, tuning: float, listened: Sequence[tuple[TimedScore, Sequence[HeardNote]]],
    told: Sequence[Mapping[str, Any]], wrong: Sequence[Wrong], samples: NDArray[np.float32], rate_hz: int,
) -> None:  # fmt: skip
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from_s = performance.start_s - AROUND_S
    until_s = performance.time_of(1.0 + float(performance.expectation.figure.length)) + AROUND_S
    chart = Figure(SIZE_INCHES, layout="constrained")
    FigureCanvasAgg(chart)
    above, below = chart.subplots(2, 1, sharex=True, height_ratios=(5, 1))
    for note in performance.expectation.notes:
        beats = np.linspace(note.start_beat, note.end_beat - 1e-6, 200)
        above.plot(
            [performance.time_of(beat) for beat in beats], note.midi_at(beats) + tuning, color="0.7", linewidth=6.0,
            solid_capstyle="butt",
        )  # fmt: skip
    for struck in performance.sounded:
        colour = COLOURS[(struck.string - 1) % len(COLOURS)]
        inside = struck.times_s <= struck.end_s
        above.plot(struck.times_s[inside], struck.midis[inside] + tuning, color=colour, linewidth=1.2, linestyle="--")
        for at_s in (struck.start_s, *struck.again_s):
            above.plot(at_s, struck.midi_at(at_s) + tuning, marker="v", color=colour, markersize=9, fillstyle="none")
    for _, notes in listened:
        for heard in notes:
            colour = "black" if heard.string is None else COLOURS[(heard.string - 1) % len(COLOURS)]
            above.plot(heard.times_s, heard.midis, ".", color=colour, markersize=4)
            above.axvline(heard.start_s, color=colour, linewidth=0.6, alpha=0.6)
    for figure in told:
        for row in figure["checkpoints"]:
            at_s = row["expected_s"] if row["heard_s"] is None else row["heard_s"]
            if row["faults"] or not row["judged"]:
                words = "+".join(row["faults"]) or "not judged"
                above.annotate(f"{row['string']}: {words}", (at_s, row["expected_midi"]), fontsize=8, rotation=30)
        for extra in figure["extras"]:
            above.annotate(
                f"{extra['string']}: {extra['fault']}", (extra["at_s"], extra["midi"]), fontsize=8, rotation=30
            )
    above.set_title("\n".join(str(w) for w in wrong[:12]), fontsize=8, loc="left", color="#a00000")
    above.set_ylabel("MIDI number: wide grey asked, dashed played (v struck), dots heard")
    first, last = max(0, round(from_s * rate_hz)), round(until_s * rate_hz)
    below.plot(np.arange(first, min(last, len(samples))) / rate_hz, samples[first:last], linewidth=0.3, color="0.2")
    below.set_xlim(from_s, until_s)
    below.set_xlabel("s")
    chart.savefig(path, dpi=80)
