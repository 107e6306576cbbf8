"""A draft in short: its tempo and figures, what else would do, what to listen to again.

In: a draft. Out: text of 80 columns.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from livecheck.drafting.draft import Draft, StepDraft
from livecheck.lesson.beat import beat_text
from livecheck.lesson.figure import Bar, Figure
from livecheck.neck.position import Position
from livecheck.reports.exercise import exercise_text
from livecheck.reports.packed import packed_lines
from livecheck.reports.wording import fret_text, plain

COLUMNS, FURTHER = 80, 6
MOST_TOLD = 6
"""Steps of a figure for which alternatives are told."""


def drafted_text(draft: Draft) -> str:
    """What was made of a take, and what is unsure about it."""
    lesson = draft.lesson
    lines = [f"tempo {lesson.tempo:g}, {_tuned(draft.tuning_cents)}"]
    for figure, steps, start_s in zip(lesson.figures, draft.figures, draft.starts_s, strict=True):
        lines.append(f"Figure {plain(figure.name)} at {start_s:.1f} s")
        lines += exercise_text("", [figure]).splitlines()[1:]
        others = list(islice(_others(figure, steps), MOST_TOLD))
        lines += packed_lines("    or: ", iter(others), COLUMNS, FURTHER) if others else []
        for step in figure.steps:
            if step.remark:
                lines += packed_lines(
                    f"    beat {beat_text(step.beat)}: ", iter(step.remark.split(" ")), COLUMNS, FURTHER
                )
    if draft.doubts:
        lines.append(f"{draft.doubts} of the steps {'is' if draft.doubts == 1 else 'are'} unsure: listen again.")
    return "\n".join(lines) + "\n"


def _tuned(cents: float) -> str:
    if abs(cents) < 3.0:
        return "tuned to 440 Hz"
    return f"{abs(cents):.0f} cents {'above' if cents > 0.0 else 'below'} 440 Hz"


def _others(figure: Figure, steps: tuple[StepDraft, ...]) -> Iterator[str]:
    """Other places for some steps, the next-best of each."""
    for step in steps:
        for other in step.alternatives[:1]:
            yield f"beat {beat_text(figure.steps[step.step - 1].beat)} {_place(other.position)}"


def _place(position: Position) -> str:
    down = [plain(name) + ("" if amount == 1.0 else f"({amount:g})") for name, amount in position.hold.levels]
    return f"{','.join(map(str, position.strings))} at {'+'.join([_bar(position.bar), *down])}"


def _bar(bar: Bar) -> str:
    return "/".join(fret_text(fret) for _, fret in bar.frets)
