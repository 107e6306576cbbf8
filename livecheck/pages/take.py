"""A take on a page: the verdict in a line, what to work on, then every figure.

In: takes as they were played. Out: a section each, and the page that holds several.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from livecheck.lesson.pitch import A4_MIDI, hz_of
from livecheck.pages.document import document, listed_items
from livecheck.pages.figure import figure_name, figure_section
from livecheck.pages.markup import Content, Markup, element, joined
from livecheck.pages.picture import hatching
from livecheck.reports.advice import advice
from livecheck.reports.console import TUNING_WORTH_TELLING_CENTS
from livecheck.reports.mistake import mistakes_of
from livecheck.reports.outcome import figure_outcome, take_outcome
from livecheck.reports.played import PlayedTake
from livecheck.reports.wording import plain

LEGEND = (
    ("asked", "dashed line: the pitch that the lesson asks; the band around it is as wide as the tolerance"),
    ("heard", "full line: the pitch that was heard"),
    ("pick", "triangle: a pick, open where it is asked, filled where it was heard"),
    ("arrival", "diamond: a move's arrival, open where it is asked, filled where it was heard"),
    ("wrong", "hatched, with a number: what is told under that number"),
)


def take_section(take: PlayedTake, name: str, called: str, number: int = 1) -> Markup:
    """The section of a take. `called`: what it is called on the page; `name`: begins the ids in it, a letter first."""
    verdict = take.verdict
    every = [mistake for figure in take.figures for mistake in mistakes_of(figure.verdict)]
    peak = 0.0 if take.samples is None else float(np.abs(take.samples(0.0, take.duration_s)).max(initial=0.0))
    links: list[Content] = [
        joined(
            [
                element("a", figure_name(figure, take), href=f"#{name}-{at}"),
                f": {figure_outcome(figure.verdict)}",
            ]
        )
        for at, figure in enumerate(take.figures, start=1)
    ]
    work: list[Content] = list(advice(every, take.lesson.copedent))
    return element(
        "section",
        element("h2", plain(called)),
        *(element("p", text, class_="facts") for text in _facts(take)),
        element("p", take_outcome(verdict), class_="verdict"),
        joined([element("h3", "Work on"), listed_items(work)]) if work else None,
        element("h3", "Figures"),
        listed_items(links),
        *(figure_section(figure, take, peak, f"{name}-{at}") for at, figure in enumerate(take.figures, start=1)),
        class_="take",
        id=name,
        data_number=number,
    )


def takes_page(title: str, sections: Sequence[Markup], lead: Content = None) -> str:
    """One page of several sections of takes, which `takes_page` does not look into."""
    return document(
        title,
        element("header", element("h1", title), lead),
        hatching(),
        element("main", _legend(), *sections),
        element(
            "footer",
            element(
                "p",
                "A measurement has an error of its own, a few cents and some ten milliseconds. "
                "Your ears and your teacher have the last word. Start with the sound turned down.",
            ),
        ),
        scripts=("moving.js",),
    )


def _facts(take: PlayedTake) -> list[str]:
    verdict = take.verdict
    told = [f"{plain(verdict.lesson)}, played at tempo {verdict.tempo:.0f}, written at {take.lesson.tempo:g}"]
    cents = verdict.tuning_cents
    if take.lesson.reference_hz is None and abs(cents) > TUNING_WORTH_TELLING_CENTS:
        side = "flat" if cents < 0 else "sharp"
        told.append(
            f"The whole take is {abs(cents):.0f} cents {side} (A4 at {hz_of(A4_MIDI + cents / 100.0):.1f} Hz): bar or "
            "tuning. Taken off before judging."
        )
    return [*told, *take.remarks]


def _legend() -> Markup:
    items: list[Content] = [text for _, text in LEGEND]
    return element("details", element("summary", "How to read the pictures"), listed_items(items), class_="legend")
