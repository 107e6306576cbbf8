"""Two takes beside each other on a page: each figure's pictures and sounds next to each other, and what has changed."""

from __future__ import annotations

import numpy as np

from livecheck.pages.document import listed_items, table
from livecheck.pages.figure import figure_section
from livecheck.pages.markup import Content, Markup, element
from livecheck.pages.take import takes_page
from livecheck.reports.beside import Pair, pairs_of, went
from livecheck.reports.played import PlayedTake
from livecheck.reports.wording import plain, times_text


def beside_page(title: str, takes: tuple[PlayedTake, PlayedTake], called: tuple[str, str]) -> str:
    """The page. `called`: what the takes are called on it."""
    pairs = pairs_of(takes[0].verdict, takes[1].verdict)
    rows: list[tuple[Content, ...]] = [(_name(pair), went(pair.first), went(pair.second)) for pair in pairs]
    names = [plain(one) for one in called]
    summary = element(
        "section",
        element("h2", f"{names[0]} beside {names[1]}"),
        table("How each figure went", ("figure", *names), rows),
    )
    peaks = [0.0 if t.samples is None else float(np.abs(t.samples(0.0, t.duration_s)).max(initial=0.0)) for t in takes]
    sections = [_pair(pair, takes, names, peaks, f"p{at}") for at, pair in enumerate(pairs, start=1)]
    return takes_page(title, [summary, *sections])


def _pair(pair: Pair, takes: tuple[PlayedTake, PlayedTake], names: list[str], peaks: list[float], name: str) -> Markup:
    changes: list[Content] = [
        f"{what}: {told}" for what, several in pair.changes(takes[0].lesson.copedent) for told in several
    ]
    sides = []
    for side, verdict in enumerate((pair.first, pair.second)):
        own = next((f for f in takes[side].figures if f.verdict is verdict), None)
        head = element("p", names[side], class_="verdict")
        body = (
            element("p", "Not played.")
            if own is None
            else figure_section(own, takes[side], peaks[side], f"{name}-{side + 1}")
        )
        sides.append(element("div", head, body))
    return element(
        "section", element("h2", f"Figure {_name(pair)}"), listed_items(changes), element("div", *sides, class_="pair")
    )


def _name(pair: Pair) -> str:
    return plain(pair.name) + (f" ({times_text(pair.attempt)})" if pair.attempt > 1 else "")
