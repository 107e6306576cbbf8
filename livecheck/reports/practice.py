"""Words for practice: what is to be played, how it went, what comes next. For large letters, the screen and the ear.

In: plans and verdicts. Out: short texts.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from livecheck.judging.verdict import TakeVerdict
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Figure
from livecheck.lesson.plan import Plan
from livecheck.reports.headline import headline
from livecheck.reports.mistake import mistakes_of
from livecheck.reports.outcome import take_outcome
from livecheck.reports.wording import plain

MOST_TOLD = 3
ANOTHER_TEMPO = 0.15
"""Share of the tempo asked for: well beyond what a player strays by who follows a count-in."""
_SPOKEN = ((r"\bms\b", "milliseconds"), (r"#", " sharp "))
"""What a speech engine would spell out."""


def announced(figures: Sequence[Figure], plan: Plan) -> str:
    """What is to be played: its name, the tempo."""
    what = plain(figures[0].name) if len(figures) == 1 else f"all {len(figures)}"
    return f"{what} at {plan.tempo:.0f}"


def verdict_in_large(verdict: TakeVerdict, before: Plan, after: Plan) -> str:
    """How it went, and what comes of it."""
    if not verdict.clean:
        told = take_outcome(verdict)
        return f"{told}, slower" if after.tempo < before.tempo else told
    if after.done or (after.learning, after.in_review) != (before.learning, before.in_review):
        return "passed"
    return "clean, faster" if after.tempo > before.tempo else f"clean, {after.clean_to_go} more"


def mistakes_told(verdict: TakeVerdict, copedent: Copedent) -> list[str]:
    """The worst mistakes of each figure, and what was not found; of several figures, with their names."""
    several = len(verdict.figures) > 1
    told = [
        f"{f'{plain(figure.figure.name)}, ' if several else ''}{headline(mistake, figure.figure, copedent)}"
        for figure in verdict.figures
        for mistake in mistakes_of(figure)[:MOST_TOLD]
    ]
    return told + [f"figure {plain(figure.figure.name)} not found" for figure in verdict.figures if not figure.found]


def is_another_tempo(verdict: TakeVerdict, plan: Plan) -> bool:
    """Whether what was played is so far from the tempo asked for that it does not count for it."""
    return verdict.tempo is not None and abs(verdict.tempo / plan.tempo - 1.0) > ANOTHER_TEMPO


def worst_step(verdict: TakeVerdict) -> tuple[Figure, int] | None:
    """The figure and the step of the worst mistake that has one."""
    for figure in verdict.figures:
        for mistake in mistakes_of(figure):
            if mistake.steps:
                return figure.figure, mistake.steps[0]
    return None


def by_ear(outcome: str, mistakes: Sequence[str]) -> str:
    """One sentence to be spoken."""
    if outcome == "clean":
        return "Clean."
    said = mistakes[0] if mistakes else "Not heard. Once more" if outcome == "nothing" else "Unsure. Once more"
    for sign, word in _SPOKEN:
        said = re.sub(sign, word, said)
    return f"{' '.join(said.split())}."
