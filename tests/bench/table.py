"""The benchmark's table as text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from tests.bench.score import GROUPS, Tally, middle_and_most


def table(tallies: Mapping[str, Tally]) -> str:
    """One row for each tally: F1 with found-invented-lost, false alarms, errors (median / 95th percentile)."""
    head = [
        "",
        "takes",
        *GROUPS,
        "alarms/100",
        "short/100",
        "rang/100",
        "unsure/100",
        "figures",
        "cents",
        "pick ms",
        "arrive ms",
        "tuning",
    ]
    rows = [head, *(_row(name, tally) for name, tally in tallies.items())]
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    )


def faults(tally: Tally) -> str:
    """One line for each fault: F1, precision, recall, found, invented, lost."""
    lines = []
    for name in (fault for group in GROUPS.values() for fault in group):
        f1, precision, recall, hit, extra, lost = tally.f1_of([name])
        lines.append(
            f"{name:12} F1 {f1:5.3f}  precision {precision:5.3f}  recall {recall:5.3f}"
            f"  found {hit:4}  invented {extra:4}  lost {lost:4}"
        )
    return "\n".join(lines)


def left_out(tally: Tally) -> str:
    """What counts neither way, since nothing in the sound tells it, a line; empty if that is nothing."""
    if not tally.faint and not tally.excused.total():
        return ""
    found, invented, lost = (tally.excused[name] for name in ("found", "invented", "lost"))
    return (
        f"left out: {tally.faint} checkpoints of which the instrument had faded; of holding, where echo or fading leave"
        f" nothing to tell it by, {found} faults found, {invented} invented, {lost} lost\n"
    )


def _row(name: str, tally: Tally) -> list[str]:
    cells = [name, str(tally.takes)]
    for group in GROUPS:
        f1, _, _, hit, extra, lost = tally.f1(group)
        cells.append(f"{f1:.3f} {hit}-{extra}-{lost}")
    hundred = 100.0 / max(1, tally.clean)
    cells += [
        f"{tally.alarms * hundred:.2f}",
        f"{tally.holding_alarms['cut-short'] * hundred:.2f}",
        f"{tally.holding_alarms['rang-on'] * hundred:.2f}",
        f"{100.0 * tally.unsure / max(1, tally.checkpoints):.1f}",
        f"-{tally.lost_figures} +{tally.invented_figures}",
        *(
            middle_and_most(v)
            for v in (tally.off_cents, tally.pick_off_ms, tally.arrival_off_ms, tally.tuning_off_cents)
        ),
    ]
    return cells


BELIEF_STEPS = (0.0, 0.25, 0.5, 0.75, 0.9, 1.001)


def calibration(tally: Tally) -> str:
    """How often verdicts are right against how sure the report is of them; empty where it does not say."""
    if not tally.beliefs:
        return ""
    lines = ["confidence     verdicts  right       faults said  right"]
    for low, high in pairwise(BELIEF_STEPS):
        all_of = [(said, right) for confidence, said, right in tally.beliefs if low <= confidence < high]
        said = [right for fault, right in all_of if fault]
        lines.append(
            f"{low:.2f} to {min(high, 1.0):.2f}  {len(all_of):9} {_percent([right for _, right in all_of])}"
            f"  {len(said):11} {_percent(said)}"
        )
    return "\n".join(lines)


def _percent(right: Sequence[bool]) -> str:
    return f"{100.0 * sum(right) / len(right):7.1f} %" if right else "      - %"
