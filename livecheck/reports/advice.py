"""The one or two things to work on: a take's mistakes grouped by what lies behind them, in a teacher's words.

In: the mistakes of all figures of a take, or of several takes. Out: sentences, the most pressing first. What counts
is how badly and how often: the sum of the mistakes' weights, times how often they came, as a habit matters more than
a slip.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

from livecheck.lesson.copedent import Copedent
from livecheck.reports.mistake import Mistake
from livecheck.reports.wording import ms_text, plain

MOST = 2
WORTH_TELLING = 0.4
"""A second thing is told when it weighs at least this share of the first."""
HABIT_TIMES = 3
"""From so many times on a mistake is a habit, and does not get more of one."""
OWN_TUNING_TIMES = 3
"""A string off the same way so often, by itself, is more likely out of tune than badly played."""


@dataclass(frozen=True)
class Theme:
    """A kind of mistake: what happens, and what to do about it."""

    happens: str
    remedy: str


SLIDE_LATE = Theme("slides arrive late", "Start the bar sooner: it has to be there on the beat.")
SLIDE_EARLY = Theme("slides arrive early", "Hold the old note longer, and slide into the beat.")
FEET_LATE = Theme("pedals and levers come late", "Move foot and knee before the beat, to be done on it.")
FEET_EARLY = Theme("pedals and levers come early", "Keep foot and knee still until it is their turn.")
BOTH_LATE = Theme(
    "bar and pedals together arrive late", "Take the move by itself, slowly, until both are there on the beat."
)
BOTH_EARLY = Theme("bar and pedals together arrive early", "Hold the old notes longer, and move into the beat.")
PICK_LATE = Theme("picks come late", "Have the bar and the fingers in place early, and count aloud.")
PICK_EARLY = Theme("picks come early", "Count aloud, and wait for the beat.")
BAR_FLAT = Theme("the bar stops short of the fret", "Look straight down on it: its middle belongs right over the fret.")
BAR_SHARP = Theme("the bar goes past the fret", "Look straight down on it: its middle belongs right over the fret.")
BAR_FRET = Theme("the bar is at another fret", "Say the next fret aloud before you move.")
BAR_STILL = Theme("the bar stays where it was", "Play the move by itself first: two frets, one pick.")
BAR_BEHIND = Theme("the pick comes before the bar is there", "Bar first, then pick.")
NEIGHBOUR = Theme("other strings are struck than asked", "Set the fingers on the strings first, look, then pick.")
HARMONIC = Theme("harmonics do not come", "Touch lightly, right over the node, and lift as you pick.")
PULL = Theme(
    "pulls behind the bar are off",
    "Pull until it sounds like the note asked for; play that note without a pull to compare.",
)
MISSED = Theme("strings are not heard", "Play the grip by itself until every string speaks.")
WRONG = Theme("other notes are heard than asked", "Check fret, pedals and strings of these steps against the lesson.")
UNMOVED = Theme("notes do not move where they should", "Play the move by itself, slowly, and listen for the new note.")
FLAT = Theme("notes settle flat", "Hold each one and listen before you go on.")
SHARP = Theme("notes settle sharp", "Hold each one and listen before you go on.")
CUT_SHORT = Theme("notes are cut short", "Keep the hands off the strings until their time is over.")
RANG_ON = Theme("strings ring on", "Block them with the palm as the next step begins.")
PICKED_AGAIN = Theme(
    "strings are picked again", "One pick carries the whole move: leave the string alone until it is asked for."
)
OTHER_NOTES = Theme(
    "notes sound that are not in the figure", "Keep the picks close to the grip, and block what is not in use."
)

_BY_FAULT: dict[str, Theme] = {
    "missed": MISSED,
    "wrong-note": WRONG,
    "missed-move": UNMOVED,
    "flat": FLAT,
    "sharp": SHARP,
    "cut-short": CUT_SHORT,
    "rang-on": RANG_ON,
    "extra-pick": PICKED_AGAIN,
    "extra-note": OTHER_NOTES,
}
_TIMES: dict[tuple[str, str], Theme] = {
    ("slide", "late"): SLIDE_LATE,
    ("slide", "early"): SLIDE_EARLY,
    ("pedal", "late"): FEET_LATE,
    ("pedal", "early"): FEET_EARLY,
    ("both", "late"): BOTH_LATE,
    ("both", "early"): BOTH_EARLY,
    ("pick", "late"): PICK_LATE,
    ("pick", "early"): PICK_EARLY,
}
_BY_CAUSE: tuple[tuple[str, str, Theme], ...] = (
    ("picked with the bar", "", BAR_BEHIND),
    ("bar did not move", "", BAR_STILL),
    ("bar ", "cents flat", BAR_FLAT),
    ("bar ", "cents sharp", BAR_SHARP),
    ("bar ", "", BAR_FRET),
    ("string", "instead of", NEIGHBOUR),
    ("string", "pulled", PULL),
    ("harmonic", "", HARMONIC),
)
"""(how a cause begins, what else it holds, its theme); the first that fits counts."""


def advice(mistakes: Iterable[Mistake], copedent: Copedent) -> list[str]:
    """What to work on, at most two sentences' worth, the most pressing first."""
    groups: dict[Theme, list[Mistake]] = {}
    every = list(mistakes)
    for mistake in every:
        groups.setdefault(_own_tuning(mistake, every) or _theme(mistake, copedent), []).append(mistake)
    ranked = sorted(groups.items(), key=lambda group: -_weight(group[1]))
    return [_sentence(*group) for group in ranked[:MOST] if _weight(group[1]) >= WORTH_TELLING * _weight(ranked[0][1])]


def _weight(mistakes: list[Mistake]) -> float:
    return sum(mistake.weight for mistake in mistakes) * min(len(mistakes), HABIT_TIMES)


def _theme(mistake: Mistake, copedent: Copedent) -> Theme:
    if mistake.cause is not None:
        for begins, holds, theme in _BY_CAUSE:
            if mistake.cause.startswith(begins) and holds in mistake.cause:
                return theme
        change = next((n for n in copedent.changes if mistake.cause.startswith(f"{n} ")), None)
        if change is not None:
            name = plain(change)
            return Theme(
                f"{name} is not where it should be",
                f"Go through the moves of {name} alone, and press or let go all the way.",
            )
    if mistake.fault in ("early", "late"):
        moves = {checkpoint.move for checkpoint in mistake.checkpoints if checkpoint.move}
        return _TIMES["both" if len(moves) > 1 else next(iter(moves), "pick"), mistake.fault]
    return _BY_FAULT[mistake.fault]


def _own_tuning(mistake: Mistake, every: list[Mistake]) -> Theme | None:
    """A string that is off the same way again and again, with no cause in common: out of tune by itself."""
    if mistake.fault not in ("flat", "sharp") or mistake.cause is not None or len(mistake.strings) != 1:
        return None
    alike = [m for m in every if (m.fault, m.cause, m.strings) == (mistake.fault, None, mistake.strings)]
    if len(alike) < OWN_TUNING_TIMES:
        return None
    return Theme(f"string {mistake.strings[0]} is {mistake.fault} by itself", "Check its tuning before anything else.")


def _sentence(theme: Theme, mistakes: list[Mistake]) -> str:
    happens = theme.happens[:1].upper() + theme.happens[1:]
    size = _size(mistakes)
    times = {1: "once", 2: "twice"}.get(len(mistakes), f"{len(mistakes)} times")
    return f"{happens} ({times}{', by ' + size if size else ''}). {theme.remedy}"


def _size(mistakes: list[Mistake]) -> str:
    """How far off in the middle, where all are off in the same unit."""
    about = "" if len(mistakes) == 1 else "about "
    if all(m.fault in ("early", "late") and m.offs_ms for m in mistakes):
        return about + ms_text(median(abs(ms) for m in mistakes for ms in m.offs_ms))
    if all(m.fault in ("flat", "sharp") and m.offs_cents for m in mistakes):
        return about + f"{median(abs(cents) for m in mistakes for cents in m.offs_cents):.0f} cents"
    return ""
