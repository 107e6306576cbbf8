"""The picture of one attempt at a figure: a strip for each string, over beats and seconds; the mistakes numbered.

In: a figure as it was played. Out: SVG. It reads without colour: what is asked is dashed, what was heard is a full
line; what is wrong is hatched, with the number under which it is told in words.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

import numpy as np

from livecheck.hearing.heard import HeardNote
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import Note, expect
from livecheck.pages.markup import Markup, element, joined
from livecheck.pages.span import LEFT, RIGHT, Span
from livecheck.pages.spot import Marked
from livecheck.pages.strip import Strip
from livecheck.reports.played import PlayedFigure

TOP, BETWEEN, FOOT = 26.0, 8.0, 24.0
LEAST_BEAT = 22.0
"""Pixels between two numbers of beats."""
NARROWEST_MARK = 12.0
TOGETHER_S = 0.15
"""A note that began so near to when a wrong one was heard is that one."""


def picture(
    played: PlayedFigure, copedent: Copedent, marks: Sequence[Marked], off: float, tolerance: float, name: str
) -> Markup:
    """The SVG of a figure that was found. `off`: how far the take as a whole sounds above what is asked, `tolerance`:
    how far off is still in tune, both in semitones. `name`: begins the ids of its title and description."""
    span = Span.of(played.verdict)
    notes = expect(played.verdict.figure, copedent).notes
    strips = _strips(played, notes, marks, off, span)
    bottom = strips[-1].bottom if strips else TOP
    by_string = {strip.string: strip for strip in strips}
    words = f"{len(marks)} places are marked" if len(marks) != 1 else "1 place is marked"
    strings = ", ".join(str(strip.string) for strip in strips if strip.string is not None)
    return element(
        "svg",
        element("title", f"Figure {played.verdict.figure.name}: pitch asked and pitch heard", id=f"{name}-title"),
        element("desc", f"Strings {strings}, from left to right in time. {words}.", id=f"{name}-desc"),
        *(_strip(strip, played, notes, off, tolerance, span, by_string.keys()) for strip in strips),
        _beats(span, bottom),
        _seconds(span, bottom),
        *(_mark(one, by_string, span) for one in marks),
        element("line", class_="now", x1=LEFT, x2=LEFT, y1=TOP - 6, y2=bottom + 4, visibility="hidden"),
        viewBox=f"0 0 {span.width:.0f} {bottom + FOOT:.0f}",
        width=round(span.width),
        height=round(bottom + FOOT),
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
        data_left=LEFT,
        data_scale=span.scale,
    )


def hatching() -> Markup:
    """What the pictures of a page share: the pattern of what is wrong."""
    line = element("path", d="M0 8L8 0M-2 2L2 -2M6 10L10 6", class_="hatch")
    pattern = element("pattern", line, id="wrong", width=8, height=8, patternUnits="userSpaceOnUse")
    return element("svg", element("defs", pattern), width=0, height=0, class_="shared", aria_hidden="true")


def _strips(
    played: PlayedFigure, notes: Sequence[Note], marks: Sequence[Marked], off: float, span: Span
) -> list[Strip]:
    asked: dict[int | None, list[float]] = {}
    for note in sorted(notes, key=lambda note: note.string):
        asked.setdefault(note.string, []).extend(midi + off for _, midi in note.knots)
    extras = {spot.string for mark in marks for spot in mark.spots} - asked.keys()
    strings = [*sorted(asked.keys() | (extras - {None}), key=lambda s: s or 0), *([None] if None in extras else [])]
    strips: list[Strip] = []
    top = TOP
    for string in strings:
        heard = [e.midi for e in played.verdict.extras if e.string == string]
        for sounded in _sounded(played, string, asked.keys(), span):
            known = sounded.midis[np.isfinite(sounded.midis) & (sounded.times_s <= sounded.heard_until_s)]
            heard += [float(np.quantile(known, q)) for q in (0.05, 0.95)] if len(known) else []
        strips.append(Strip.around(string, top, asked.get(string, []), heard))
        top = strips[-1].bottom + BETWEEN
    return strips


def _sounded(played: PlayedFigure, string: int | None, strings: Collection[int | None], span: Span) -> list[HeardNote]:
    """The notes of a string, and those of strings that have no strip which sounded in place of one of its own."""
    wrong_s = [
        c.heard_s
        for c in played.verdict.checkpoints
        if c.string == string and "wrong-note" in c.faults and c.heard_s is not None
    ]
    return [
        note
        for note in played.notes
        if note.end_s > span.from_s
        and note.start_s < span.until_s
        and (
            note.string == string
            or (note.string not in strings and any(abs(note.start_s - at_s) < TOGETHER_S for at_s in wrong_s))
        )
    ]


def _strip(
    strip: Strip,
    played: PlayedFigure,
    notes: Sequence[Note],
    off: float,
    tolerance: float,
    span: Span,
    strings: Collection[int | None],
) -> Markup:
    checkpoints = [c for c in played.verdict.checkpoints if c.string == strip.string]
    return element(
        "g",
        strip.frame(span, [c.expected_midi for c in checkpoints], off),
        strip.asked([note for note in notes if note.string == strip.string], span, off, tolerance),
        strip.heard(_sounded(played, strip.string, strings, span), span),
        strip.signs(checkpoints, span, off),
    )


def _beats(span: Span, bottom: float) -> Markup:
    """A line and a number for every beat, fewer numbers where they would be too close."""
    parts = [element("text", "beat", class_="axis", x=LEFT - 6, y=TOP - 10, text_anchor="end")]
    every = max(1, math.ceil(LEAST_BEAT / (span.beat_s * span.scale)))
    for beat in range(1, math.floor(span.beats) + 2):
        x = span.x(span.time_s(beat))
        parts.append(element("line", class_="beat", x1=x, x2=x, y1=TOP - 4, y2=bottom))
        if (beat - 1) % every == 0 and beat <= span.beats:
            parts.append(element("text", str(beat), class_="axis", x=x, y=TOP - 10, text_anchor="middle"))
    return joined(parts)


def _seconds(span: Span, bottom: float) -> Markup:
    parts = [element("text", "second", class_="axis", x=LEFT - 6, y=bottom + 16, text_anchor="end")]
    every = 1 if span.scale >= 30.0 else 5
    for second in range(max(math.ceil(span.from_s), 0), math.floor(span.until_s) + 1):
        x = span.x(second)
        if second % every == 0 and x < span.width - RIGHT - 4:
            parts.append(element("line", class_="tick", x1=x, x2=x, y1=bottom, y2=bottom + 4))
            parts.append(element("text", str(second), class_="axis", x=x, y=bottom + 16, text_anchor="middle"))
    return joined(parts)


def _mark(mark: Marked, strips: dict[int | None, Strip], span: Span) -> Markup:
    parts: list[Markup] = []
    for spot in mark.spots:
        strip = strips[spot.string]
        x = span.x(spot.from_s)
        width = max(span.x(spot.until_s) - x, NARROWEST_MARK)
        box = {"x": x, "y": strip.top + 1, "width": width, "height": strip.height - 2, "rx": 3}
        parts += [
            element("rect", class_="wrong", **box),
            element("circle", class_="badge", cx=x, cy=strip.top + 10, r=9),
            element("text", str(mark.number), class_="badge-number", x=x, y=strip.top + 14, text_anchor="middle"),
        ]
    return element("g", *parts)
