"""The benchmark's table as text."""

from __future__ import annotations

from collections.abc import Mapping

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
        f"-{tally.lost_figures} +{tally.invented_figures}",
        *(
            middle_and_most(v)
            for v in (tally.off_cents, tally.pick_off_ms, tally.arrival_off_ms, tally.tuning_off_cents)
        ),
    ]
    return cells
