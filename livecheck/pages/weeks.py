"""A lesson over weeks on a page: for each figure how far off its times and pitches were, how often it was clean.

In: what attempts say together. Out: an HTML document; every chart is a table too.
"""

from __future__ import annotations

from collections.abc import Sequence

from livecheck.keeping.trend import Flaw, Trend
from livecheck.pages.chart import chart
from livecheck.pages.document import document, listed_items, table
from livecheck.pages.markup import Content, Markup, element, joined
from livecheck.reports.wording import numbered, plain

MOST_FLAWS = 5


def weeks_page(title: str, whose: str, figures: Sequence[tuple[str, Trend]]) -> str:
    """The page. `whose`: the student, or nothing; `figures`: in the lesson's order."""
    return document(
        title,
        element("header", element("h1", title), element("p", whose, class_="verdict") if whose else None),
        element("main", *(_figure(name, trend, f"f{at}") for at, (name, trend) in enumerate(figures, start=1))),
    )


def flaw_text(flaw: Flaw) -> str:
    """step 2, string 1: late (0 of the last 3, 3 of 3 before)."""
    where = [] if flaw.step is None else [f"step {flaw.step}"]
    where += [numbered("string", flaw.strings)] if flaw.strings else []
    before = f", {flaw.before} of {flaw.before_of} before" if flaw.before_of else ""
    told = f"{plain(flaw.what)} ({flaw.now} of the last {flaw.now_of}{before})"
    return f"{', '.join(where)}: {told}" if where else told


def _figure(name: str, trend: Trend, own: str) -> Markup:
    heading = element("h2", f"Figure {plain(name)}")
    if not trend.days:
        return element("section", heading, element("p", "Not tried yet."))
    days = [day.date for day in trend.days]
    charts: list[tuple[str, str, list[float | None]]] = [
        ("time off, in the middle", "ms", [day.time_off_ms for day in trend.days]),
        ("pitch off, in the middle", "cents", [day.pitch_off_cents for day in trend.days]),
        ("clean attempts", "%", [100.0 * day.clean / day.attempts for day in trend.days]),
    ]
    better = [flaw for flaw in trend.flaws if flaw.is_better]
    still = [flaw for flaw in trend.flaws if flaw.is_wrong_still and not flaw.is_better]
    rows: list[tuple[Content, ...]] = [
        (
            day.date.isoformat(),
            str(day.attempts),
            str(day.clean),
            "" if day.time_off_ms is None else f"{day.time_off_ms:.0f} ms",
            "" if day.pitch_off_cents is None else f"{day.pitch_off_cents:.0f} cents",
        )
        for day in trend.days
    ]
    return element(
        "section",
        heading,
        *(
            joined(
                [element("h3", title[:1].upper() + title[1:]), _wide(chart(f"{own}-{at}", title, unit, days, values))]
            )
            for at, (title, unit, values) in enumerate(charts)
        ),
        _flaws("Better", better),
        _flaws("Still wrong", still),
        element(
            "details",
            element("summary", "Day by day, as a table"),
            table(f"Figure {plain(name)} day by day", ("day", "attempts", "clean", "time off", "pitch off"), rows),
        ),
    )


def _flaws(heading: str, flaws: Sequence[Flaw]) -> Markup | None:
    items: list[Content] = [flaw_text(flaw) for flaw in flaws[:MOST_FLAWS]]
    return joined([element("h3", heading), listed_items(items)]) if items else None


def _wide(drawn: Markup) -> Markup:
    return element("div", drawn, class_="wide", tabindex="0", role="region", aria_label="Chart, scrolls sideways")
