"""Compares a report of the command line with the truth."""

import json
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.holdout.truth import GROUPS, Attempt, Checkpoint, Extra

SAME_START_S = 1.5
SAME_EXTRA_S = 0.2
SAME_MIDI = 0.6

Report = dict[str, Any]


@dataclass
class Score:
    """`right`, `gone` and `new` by group; `alarms` are clean checkpoints called wrong, and extras and figures that
    nobody played (`invented`); checkpoints of which the report says nothing are `lost`, and not `clean`."""

    right: Counter[str] = field(default_factory=Counter)
    gone: Counter[str] = field(default_factory=Counter)
    new: Counter[str] = field(default_factory=Counter)
    clean: int = 0
    alarms: int = 0
    lost: int = 0
    invented: int = 0
    wrong: list[str] = field(default_factory=list)

    def add(self, other: "Score") -> None:
        self.right += other.right
        self.gone += other.gone
        self.new += other.new
        self.clean += other.clean
        self.alarms += other.alarms
        self.lost += other.lost
        self.invented += other.invented

    def f1(self, group: str) -> float:
        wrong = self.gone[group] + self.new[group]
        return 2 * self.right[group] / (2 * self.right[group] + wrong) if self.right[group] + wrong else 1.0


def grade(lesson: Path, take: Path) -> Report:
    call = [sys.executable, "-m", "livecheck", "grade", str(lesson), str(take), "--json"]
    done = subprocess.run(call, capture_output=True, text=True, check=False)
    if done.returncode not in {0, 1}:
        return {"figures": [], "error": done.stderr}
    report: Report = json.loads(done.stdout)
    return report


def compare(report: Report, attempts: list[Attempt]) -> Score:
    score = Score()
    found = [figure for figure in report["figures"] if figure["found"]]
    for attempt in attempts:
        near = [figure for figure in found if _of(figure, attempt)]
        heard = {(c["step"], c["string"], c["kind"]): c for figure in near for c in figure["checkpoints"]}
        for checkpoint in attempt.checkpoints:
            verdict = heard.get((checkpoint.step, checkpoint.string, checkpoint.kind))
            _checkpoint(score, attempt, checkpoint, verdict)
        extras = [extra for figure in near for extra in figure["extras"] if extra["at_s"] < attempt.end_s]
        _extras(score, attempt, extras)
    for figure in found:
        if not any(_of(figure, attempt) for attempt in attempts):
            score.invented += 1
            score.alarms += 1
            score.wrong.append(f"figure {figure['figure']} at {figure['start_s']:.1f}: nobody played it")
    return score


def _of(figure: Report, attempt: Attempt) -> bool:
    return bool(figure["figure"] == attempt.figure and abs(figure["start_s"] - attempt.start_s) < SAME_START_S)


def _checkpoint(score: Score, attempt: Attempt, truth: Checkpoint, verdict: Report | None) -> None:
    where = f"figure {attempt.figure} at {attempt.start_s:.1f} step {truth.step} string {truth.string} {truth.kind}"
    where += f" {truth.at_s:.2f} s"
    if verdict is None:
        score.lost += 1
    faults = set(verdict["faults"]) if verdict and verdict["judged"] else set()
    alarm = False
    for group, names in GROUPS.items():
        wanted = {truth.fault} & names
        got = faults & names
        if group in truth.open_groups and not wanted:
            continue
        score.right[group] += len(wanted & got)
        score.gone[group] += len(wanted - got)
        score.new[group] += len(got - wanted)
        alarm = alarm or bool(got)
        if wanted != got:
            detail = (
                ""
                if verdict is None
                else f"; timing {verdict['timing_ms']}, cents {verdict['cents']}, {verdict['cause']}"
            )
            unjudged = " (not judged)" if verdict and not verdict["judged"] else ""
            score.wrong.append(
                f"{where}: {group}: was {wanted or truth.fault}, told {sorted(faults)}{unjudged}{detail}"
            )
    if verdict is not None and truth.fault is None and not truth.open_groups:
        score.clean += 1
        score.alarms += alarm


def _extras(score: Score, attempt: Attempt, told: list[Report]) -> None:
    left = list(told)
    for extra in attempt.extras:
        match = next((report for report in left if _same(extra, report)), None)
        if match is None:
            score.gone["extras"] += 1
            score.wrong.append(f"figure {attempt.figure} at {attempt.start_s:.1f}: {extra} not told")
        else:
            left.remove(match)
            score.right["extras"] += 1
    for report in left:
        score.new["extras"] += 1
        score.alarms += 1
        score.wrong.append(f"figure {attempt.figure} at {attempt.start_s:.1f}: told {report}")


def _same(extra: Extra, report: Report) -> bool:
    near = abs(extra.at_s - report["at_s"]) < SAME_EXTRA_S
    pitch = report["midi"] is None or abs(extra.midi - report["midi"]) < SAME_MIDI
    return bool(extra.fault == report["fault"] and near and (pitch or extra.string == report["string"]))
