"""One attempt at a figure on a page: its picture, its sound beside the lesson's own, its mistakes in words, its table.

In: a figure as it was played. Out: markup. Words, not colours, say what was wrong; the table says all that the picture
shows, for those who cannot see it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from livecheck.judging.verdict import CheckpointVerdict
from livecheck.lesson.beat import beat_text
from livecheck.lesson.expectation import expect
from livecheck.lesson.pitch import A4_HZ, A4_MIDI
from livecheck.pages.document import listed_items, table
from livecheck.pages.markup import Content, Markup, element, joined
from livecheck.pages.picture import picture
from livecheck.pages.sound import levelled, sound_url
from livecheck.pages.span import LEAD_S, Span
from livecheck.pages.spot import Marked, marked
from livecheck.reports.headline import detail, headline
from livecheck.reports.played import PlayedFigure, PlayedTake
from livecheck.reports.wording import near_name, plain, times_text
from livecheck.sources.example import at_level, plucked, whole_example

EXAMPLE_HZ = 16_000
LEVEL_DB = -6.0
FADE_S = 0.01
_FAULTS = {
    "missed": "not heard",
    "wrong-note": "another note",
    "missed-move": "did not move",
    "cut-short": "cut short",
    "rang-on": "rang on",
}
_MOVES = {"slide": "bar", "pedal": "pedal, lever or pull", "both": "bar and pedals"}


def figure_section(played: PlayedFigure, take: PlayedTake, peak: float, name: str, level: int = 3) -> Markup:
    """The section of a figure. `peak`: the loudest sample of its take. `name`: begins the ids in it."""
    figure = played.verdict
    if not figure.found:
        return element(
            "section",
            element(f"h{level}", _title(played, take)),
            element("p", "Not found in this take."),
            class_="figure",
            id=name,
        )
    span = Span.of(figure)
    off = take.verdict.tuning_cents / 100.0
    marks = marked(figure, expect(figure.figure, take.lesson.copedent).notes, span)
    drawn = picture(played, take.lesson.copedent, marks, off, take.tolerances.cents / 100.0, name)
    return element(
        "section",
        element(f"h{level}", _title(played, take)),
        element("p", _facts(played), class_="facts"),
        element("div", drawn, class_="wide", tabindex="0", role="region", aria_label="Picture, scrolls sideways"),
        _sounds(played, take, peak, span),
        listed_items([_mistake(one, played, take) for one in marks], ordered=True),
        _remarks(played),
        _table(played, take),
        class_="figure",
        id=name,
    )


def _title(played: PlayedFigure, take: PlayedTake) -> str:
    return f"Figure {figure_name(played, take)}"


def figure_name(played: PlayedFigure, take: PlayedTake) -> str:
    """The figure's name, with which attempt it is where there are several."""
    name = plain(played.verdict.figure.name)
    again = sum(other.verdict.figure.name == played.verdict.figure.name for other in take.figures) > 1
    return f"{name} ({times_text(played.verdict.attempt)})" if again else name


def _facts(played: PlayedFigure) -> Markup:
    figure = played.verdict
    told = f"begins at {figure.start_s:.1f} s, tempo {figure.tempo:.0f}"
    return joined([element("strong", "clean, ") if figure.clean else None, told])


def _mistake(one: Marked, played: PlayedFigure, take: PlayedTake) -> Markup:
    figure, copedent = played.verdict.figure, take.lesson.copedent
    more = detail(one.mistake, figure, copedent)
    return joined(
        [
            element("strong", headline(one.mistake, figure, copedent)),
            element("br") if more else None,
            element("span", more, class_="detail") if more else None,
        ]
    )


def _remarks(played: PlayedFigure) -> Markup:
    """The teacher's words."""
    told: list[Content] = [
        f"Step {step.number}, beat {beat_text(step.beat)}: {plain(step.remark)}"
        for step in played.verdict.figure.steps
        if step.remark
    ]
    return joined([element("p", "The lesson says:", class_="lead"), listed_items(told)]) if told else joined([])


def _sounds(played: PlayedFigure, take: PlayedTake, peak: float, span: Span) -> Markup:
    title = _title(played, take)
    own = whole_example(played.verdict.figure, take.lesson.copedent, 60.0 / span.beat_s, EXAMPLE_HZ, LEVEL_DB)
    lead = np.zeros(round(LEAD_S * EXAMPLE_HZ), dtype=np.float32)
    heard, rate_hz = _heard(played, take, peak, span)
    return element(
        "div",
        _player("As it was played", f"{title}, as it was played", sound_url(heard, rate_hz)),
        _player(
            "As the lesson has it",
            f"{title}, as the lesson has it",
            sound_url(np.concatenate([lead, own]), EXAMPLE_HZ),
        ),
        class_="sounds",
    )


def _player(label: str, name: str, url: str) -> Markup:
    audio = element("audio", src=url, controls=True, preload="metadata", aria_label=name)
    return element("div", element("span", label, class_="label"), audio, class_="player")


def _heard(played: PlayedFigure, take: PlayedTake, peak: float, span: Span) -> tuple[NDArray[np.float32], int]:
    """The figure's part of the take; of a MIDI take its notes as plucked tones."""
    if take.samples is not None:
        samples = levelled(take.samples(span.from_s, span.until_s), peak)
        fade = np.minimum(np.arange(len(samples)) / (FADE_S * take.rate_hz), 1.0).astype(np.float32)
        return samples * fade * fade[::-1], take.rate_hz
    out = np.zeros(round((span.until_s - span.from_s) * EXAMPLE_HZ), dtype=np.float32)
    times_s = span.from_s + np.arange(len(out)) / EXAMPLE_HZ
    for note in played.notes:
        known = np.isfinite(note.midis)
        sounds = (times_s >= note.start_s) & (times_s < note.end_s)
        if known.any() and sounds.any():
            midis = np.interp(times_s[sounds], note.times_s[known], note.midis[known])
            out[sounds] += plucked(A4_HZ * 2.0 ** ((midis - A4_MIDI) / 12.0), EXAMPLE_HZ)
    return at_level(out, LEVEL_DB), EXAMPLE_HZ


def _table(played: PlayedFigure, take: PlayedTake) -> Markup:
    heads = ("step", "string", "what", "beat", "asked", "heard", "pitch off", "time off", "verdict")
    rows: list[tuple[Content, ...]] = [_row(c) for c in played.verdict.checkpoints]
    for extra in played.verdict.extras:
        string = "" if extra.string is None else str(extra.string)
        what = "picked again" if extra.fault == "extra-pick" else "a note that is not in the figure"
        rows.append(("", string, "extra", "", "", near_name(extra.midi), "", f"at {extra.at_s:.2f} s", what))
    whole = table(f"{_title(played, take)}: everything that was checked", heads, rows)
    return element("details", element("summary", "Everything that was checked, as a table"), whole)


def _signed(value: float) -> str:
    """+12, 0, -3."""
    return f"{round(value):+d}" if round(value) else "0"


def _row(c: CheckpointVerdict) -> tuple[Content, ...]:
    what = "pick" if c.kind == "pick" else f"move ({_MOVES[c.move or 'slide']})"
    told = ", ".join(_FAULTS.get(fault, fault) for fault in c.faults) or ("right" if c.judged else "not judged")
    return (
        str(c.step),
        str(c.string),
        what,
        f"{c.beat:g}",
        near_name(c.expected_midi),
        "" if c.heard_midi is None else near_name(c.heard_midi),
        "" if c.cents is None else f"{_signed(c.cents)} cents",
        "" if c.timing_ms is None else f"{_signed(c.timing_ms)} ms",
        f"{told}: {plain(c.cause)}" if c.cause else told,
    )
