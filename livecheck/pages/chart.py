"""A value against days as a chart: a dot a day, a line through them; the numbers stand beside the dots.

In: days and values. Out: SVG. Days lie as far apart as they are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from livecheck.pages.markup import Markup, element, number

WIDTH, HEIGHT = 620.0, 150.0
LEFT, RIGHT, TOP, BOTTOM = 56.0, 30.0, 22.0, 28.0
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
LEAST_LABEL = 46.0
"""Pixels between two numbers or two dates."""


def chart(name: str, title: str, unit: str, days: Sequence[date], values: Sequence[float | None]) -> Markup:
    """The chart of what there is a value for. `name`: begins the id of its title; `unit`: stands at its axis."""
    points = [(day, value) for day, value in zip(days, values, strict=True) if value is not None]
    top = _round_above(max((value for _, value in points), default=1.0))
    parts: list[Markup] = [element("title", _words(title, unit, points), id=f"{name}-title")]
    for share in (0.0, 0.5, 1.0):
        y = _y(share)
        parts.append(element("line", class_="level", x1=LEFT, x2=WIDTH - RIGHT, y1=y, y2=y))
        parts.append(
            element("text", number(share * top), class_="axis", x=LEFT - 8, y=y + 4, text_anchor="end"),
        )
    parts.append(element("text", unit, class_="axis", x=LEFT - 8, y=12, text_anchor="end"))
    places = [(_x(day, points), _y(value / top)) for day, value in points]
    if len(places) > 1:
        parts.append(element("path", class_="curve", d="M" + "L".join(f"{number(x)} {number(y)}" for x, y in places)))
    last = -math.inf
    for (x, y), (day, value) in zip(places, points, strict=True):
        parts.append(element("circle", class_="dot", cx=x, cy=y, r=4))
        if x - last >= LEAST_LABEL:
            last = x
            parts.append(element("text", f"{value:.0f}", x=x, y=y - 8, text_anchor="middle"))
            parts.append(element("text", _short(day), class_="axis", x=x, y=HEIGHT - 8, text_anchor="middle"))
    return element(
        "svg",
        *parts,
        viewBox=f"0 0 {WIDTH:.0f} {HEIGHT:.0f}",
        width=WIDTH,
        height=HEIGHT,
        role="img",
        aria_labelledby=f"{name}-title",
    )


def _words(title: str, unit: str, points: Sequence[tuple[date, float]]) -> str:
    if not points:
        return f"{title}: nothing yet"
    (first, before), (last, after) = points[0], points[-1]
    if len(points) == 1:
        return f"{title}: {before:.0f} {unit} on {first.isoformat()}"
    return f"{title}: from {before:.0f} {unit} on {first.isoformat()} to {after:.0f} {unit} on {last.isoformat()}"


def _short(day: date) -> str:
    """5 Oct."""
    return f"{day.day} {MONTHS[day.month - 1]}"


def _x(day: date, points: Sequence[tuple[date, float]]) -> float:
    first, last = points[0][0], points[-1][0]
    span = (last - first).days
    return LEFT + 24.0 + (WIDTH - LEFT - RIGHT - 48.0) * ((day - first).days / span if span else 0.5)


def _y(share: float) -> float:
    return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)


def _round_above(value: float) -> float:
    """1, 2 or 5 times a power of ten, not below the value."""
    if value <= 0.0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= value)
