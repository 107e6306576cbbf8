"""Compares a report with the truth: what was found, missed and invented, and how well times and pitches were measured.

A fault counts as found only under its own name, at its own checkpoint; an extra only under its own name, within 150 ms,
and on its own string where the report names one. Figures are paired by name and start. What cannot be heard, because
the instrument itself had faded by then, is left out of the count; so is what was broken off to begin anew. Faults
of which the report is not sure count as not said.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

GROUPS = {
    "note": ("missed", "wrong-note", "missed-move"),
    "timing": ("early", "late"),
    "intonation": ("flat", "sharp"),
    "extras": ("extra-pick", "extra-note"),
    "holding": ("cut-short", "rang-on"),
}
HOLDING = frozenset(GROUPS["holding"])
EXTRA_WITHIN_S = 0.15
SAME_START_S = 1.5
"""Figures of one name that begin so far apart are different attempts."""
UNSURE = 0.5
"""A fault of which the report is less sure accuses nobody."""
FAINT_DB, FADED_DB = -45.0, -34.0
"""Under the level of a fresh pick: too faint to be heard at an event; faded so far that it may count as silent."""

Row = dict[str, Any]


@dataclass(frozen=True)
class Wrong:
    """One verdict that differs from the truth."""

    take: str
    figure: str
    attempt: int
    where: str
    expected: str
    got: str

    def __str__(self) -> str:
        return f"{self.take}  figure {self.figure}.{self.attempt}  {self.where}: wanted {self.expected}, got {self.got}"


@dataclass
class Tally:
    """Counts over takes; tallies add."""

    takes: int = 0
    hit: Counter[str] = field(default_factory=Counter)
    lost: Counter[str] = field(default_factory=Counter)
    invented: Counter[str] = field(default_factory=Counter)
    checkpoints: int = 0
    clean: int = 0
    alarms: int = 0
    """Clean checkpoints with a fault other than of holding."""
    holding_alarms: Counter[str] = field(default_factory=Counter)
    lost_figures: int = 0
    invented_figures: int = 0
    told_breaks: int = 0
    """Attempts broken off that the report has as figures."""
    unsure: int = 0
    """Checkpoints of whose verdict the report is not sure."""
    beliefs: list[tuple[float, bool, bool]] = field(default_factory=list)
    """(confidence, whether a fault is said, whether the verdict is right) of each judged checkpoint."""
    unheard: int = 0
    """Judged in truth, not judged in the report."""
    faint: int = 0
    """Checkpoints left out, and with them whatever was said of them: the instrument was too faint by then."""
    excused: Counter[str] = field(default_factory=Counter)
    """Faults of holding left out where nothing tells them: what they would have counted as."""
    off_cents: list[float] = field(default_factory=list)
    pick_off_ms: list[float] = field(default_factory=list)
    arrival_off_ms: list[float] = field(default_factory=list)
    tuning_off_cents: list[float] = field(default_factory=list)
    tempo_off_percent: list[float] = field(default_factory=list)
    wrong: list[Wrong] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        for name, value in vars(other).items():
            mine = getattr(self, name)
            if isinstance(mine, list):
                mine.extend(value)
            elif isinstance(mine, Counter):
                mine.update(value)
            else:
                setattr(self, name, mine + value)

    def f1(self, group: str) -> tuple[float, float, float, int, int, int]:
        """F1, precision, recall, and the counts of found, invented and lost, over a group of faults."""
        return self.f1_of(GROUPS[group])

    def f1_of(self, faults: Iterable[str]) -> tuple[float, float, float, int, int, int]:
        names = list(faults)
        hit, extra, lost = (sum(counts[n] for n in names) for counts in (self.hit, self.invented, self.lost))
        precision = hit / (hit + extra) if hit + extra else float("nan")
        recall = hit / (hit + lost) if hit + lost else float("nan")
        whole = 2 * hit + extra + lost
        return (2 * hit / whole if whole else float("nan")), precision, recall, hit, extra, lost


def compare(truth: Row, report: Row, name: str, echoing: bool = False) -> Tally:
    """One take. `echoing`: in echo or reverb, where ringing on is not judged and silence is no evidence."""
    tally = Tally(takes=1)
    theirs = [f for f in report["figures"] if f["found"]]
    ours = [f for f in truth["figures"] if f["found"]]
    paired = 0
    for figure in ours:
        near = [f for f in theirs if f["figure"] == figure["figure"] and _apart_s(f, figure) < SAME_START_S]
        if not near:
            _lost(tally, figure, name)
            continue
        nearest = min(near, key=lambda f: _apart_s(f, figure))
        theirs.remove(nearest)
        paired += 1
        _figure(tally, figure, nearest, name, echoing)
    for figure in theirs:
        if any(_is_of(figure, broken) for broken in truth.get("broken", ())):
            tally.told_breaks += 1
            continue
        tally.invented_figures += 1
        key = figure["figure"], figure["attempt"]
        tally.wrong.append(Wrong(name, *key, "figure", "nothing", f"found at {figure['start_s']} s"))
    if paired:
        tally.tuning_off_cents.append(report["tuning_cents"] - truth["tuning_cents"])
        tally.tempo_off_percent.append(100.0 * (report["tempo"] / truth["tempo"] - 1.0))
    return tally


def _apart_s(one: Row, other: Row) -> float:
    return abs(float(one["start_s"]) - float(other["start_s"]))


def _is_of(figure: Row, broken: Row) -> bool:
    """Whether a figure that was found is an attempt that was broken off."""
    same = figure["figure"] == broken["figure"]
    return same and bool(broken["start_s"] - SAME_START_S < figure["start_s"] < broken["until_s"])


def _lost(tally: Tally, figure: Row, name: str) -> None:
    tally.lost_figures += 1
    tally.wrong.append(
        Wrong(name, figure["figure"], figure["attempt"], "figure", f"found at {figure['start_s']} s", "nothing")
    )
    tally.lost.update(fault for c in figure["checkpoints"] for fault in c["faults"])
    tally.lost.update(e["fault"] for e in figure["extras"])


def _figure(tally: Tally, truth: Row, report: Row, name: str, echoing: bool) -> None:
    heard = {(c["step"], c["string"], c["kind"]): c for c in report["checkpoints"]}
    for wanted in truth["checkpoints"]:
        got = heard.pop((wanted["step"], wanted["string"], wanted["kind"]), None)
        where = f"step {wanted['step']} string {wanted['string']} {wanted['kind']} at {wanted['expected_s']:.2f} s"
        if got is None:
            tally.wrong.append(Wrong(name, truth["figure"], truth["attempt"], where, "a checkpoint", "none"))
            tally.lost.update(wanted["faults"])
            continue
        complaint = _checkpoint(tally, wanted, got, echoing)
        if complaint is not None:
            tally.wrong.append(Wrong(name, truth["figure"], truth["attempt"], where, *complaint))
    for key in heard:
        tally.wrong.append(Wrong(name, truth["figure"], truth["attempt"], str(key), "no such checkpoint", "one"))
    _extras(tally, truth, report, name)


def _checkpoint(tally: Tally, wanted: Row, got: Row, echoing: bool) -> tuple[str, str] | None:
    """Count one checkpoint; what was wanted and got, if they differ."""
    if wanted.get("level_db", 0.0) < FAINT_DB:
        tally.faint += 1
        return None
    truth, report = set(wanted["faults"]), set(got["faults"])
    confidence = got.get("confidence")
    asked, said = frozenset(truth), frozenset(report)
    if echoing:
        truth -= HOLDING
        report -= {"cut-short"}
    if wanted.get("later_db", 0.0) < FADED_DB:
        report -= {"cut-short"}
        truth -= {"cut-short"}
    tally.excused.update(found=len((asked - truth) & said), lost=len(asked - truth - said))
    tally.excused.update(invented=len(said - report - asked))
    tally.checkpoints += 1
    if confidence is not None and got["judged"]:
        tally.beliefs.append((confidence, bool(report), truth == report))
        if confidence < UNSURE:
            tally.unsure += 1
            report = set()
    if not wanted["judged"]:
        tally.invented.update(report)
        return ("not judged", _words(report, got)) if report else None
    tally.hit.update(truth & report)
    tally.lost.update(truth - report)
    tally.invented.update(report - truth)
    tally.unheard += not got["judged"]
    if not truth:
        tally.clean += 1
        tally.alarms += bool(report - HOLDING)
        tally.holding_alarms.update(report & HOLDING)
    if truth == report and got["judged"]:
        _measure(tally, wanted, got)
        return None
    if truth == report and not truth:
        return None
    return _words(truth, wanted), _words(report, got)


def _measure(tally: Tally, wanted: Row, got: Row) -> None:
    if wanted["heard_midi"] is not None and got["heard_midi"] is not None:
        tally.off_cents.append(100.0 * (got["heard_midi"] - wanted["heard_midi"]))
    if wanted["heard_s"] is not None and got["heard_s"] is not None:
        off_ms = 1000.0 * (got["heard_s"] - wanted["heard_s"])
        (tally.pick_off_ms if wanted["kind"] == "pick" else tally.arrival_off_ms).append(off_ms)


def _words(faults: set[str], row: Row) -> str:
    said = "+".join(sorted(faults)) or ("clean" if row["judged"] else "not judged")
    timing = "" if row["timing_ms"] is None else f" {row['timing_ms']:+.0f} ms"
    cents = "" if row["cents"] is None else f" {row['cents']:+.0f} cents"
    return f"{said} ({(timing + cents).strip() or 'unheard'})"


def _extras(tally: Tally, truth: Row, report: Row, name: str) -> None:
    left: list[Row] = list(report["extras"])
    for wanted in truth["extras"]:
        fits = [e for e in left if _fits(wanted, e)]
        if fits:
            left.remove(min(fits, key=lambda e: (e["string"] != wanted["string"], abs(e["at_s"] - wanted["at_s"]))))
            tally.hit[wanted["fault"]] += 1
            continue
        tally.lost[wanted["fault"]] += 1
        where = f"string {wanted['string']} midi {wanted['midi']:.1f} at {wanted['at_s']:.2f} s"
        tally.wrong.append(Wrong(name, truth["figure"], truth["attempt"], where, wanted["fault"], "nothing"))
    for extra in left:
        tally.invented[extra["fault"]] += 1
        where = f"string {extra['string']} midi {extra['midi']:.1f} at {extra['at_s']:.2f} s"
        tally.wrong.append(Wrong(name, truth["figure"], truth["attempt"], where, "nothing", extra["fault"]))


def _fits(wanted: Row, extra: Row) -> bool:
    near = abs(extra["at_s"] - wanted["at_s"]) <= EXTRA_WITHIN_S
    return near and extra["fault"] == wanted["fault"] and extra["string"] in (None, wanted["string"])


def middle_and_most(values: Sequence[float]) -> str:
    """The median of the absolute values and their 95th percentile."""
    if not values:
        return "-"
    size = np.abs(values)
    return f"{np.median(size):.1f} / {np.percentile(size, 95):.1f}"
